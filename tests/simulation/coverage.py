"""How often the truth lies in the interval: where the truth is as drawn, and where it is moved on purpose.

Of the first kind a table would only prove the code; the second is the one to look at. As a
command, writes its section of the developers' page anew.
"""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

import numpy as np

from service.domain.graft import GraftMethod
from service.evidence.library import Evidence, EvidenceRow
from service.simulation.course_book import CourseBook
from service.simulation.simulate import DEFAULT_SEED, SimulatedPlan, simulate_book
from tests.conftest import ROOT
from tests.simulation.books import EVIDENCE, book_of

PAGE = ROOT / "DEVELOPERS.md"
TITLE = "Intervals against another truth"
NOMINAL = (50, 80, 90, 95)
CASES = ((20, 1), (35, 2), (50, 1), (65, 2))
COURSES, TRUTHS, TRUTH_SEED = 4000, 4000, 2
HEAD = """
Share of true courses within the interval that is meant to hold 50, 80, 90 and 95 % of them, in per cent; four invented
burns of 20 to 65 %TBSA. Where the truth comes from the same distributions the shares agree, which only proves the code.
Where it is moved on purpose they show what an interval is worth if the evidence does not fit a unit: nothing is tuned
to it. `.venv/bin/python -m tests.simulation.coverage` writes this section anew.

| The truth is | Skin of the first session | Graft lost | Sessions | Closure |
|---|---|---|---|---|
"""
MEASURES = ("skin", "lost", "sessions", "closure")


def _moved(row: EvidenceRow, factor: str) -> EvidenceRow:
    """The row with its whole distribution stretched, range and all."""
    by = Decimal(factor)
    name, _, inside = row.distribution.partition("(")
    if name == "beta":  # kept on 0 to 1: the mean is moved, the weight of the data kept
        a, b = (Decimal(part) for part in inside.rstrip(")").split(","))
        mean = a / (a + b) * by
        return replace(row, low=Decimal(0), distribution=f"beta({mean * (a + b):f},{(1 - mean) * (a + b):f})")
    if inside.startswith("sd="):
        inside = f"sd={Decimal(inside.rstrip(')').removeprefix('sd=')) * by:f})"
    return replace(row, value=row.value * by, low=row.low * by, high=row.high * by,
                   distribution=f"{name}({inside}" if inside else name)


def _takes() -> list[EvidenceRow]:
    return [*EVIDENCE.rows("take"), *EVIDENCE.rows("single-graft-take")]


def truths() -> dict[str, Evidence]:
    """Evidence by what it is called in the table; the first is the one that is simulated with."""
    ratios = [EVIDENCE.row("achieved-expansion-ratio", method) for method in GraftMethod]
    return {
        "as drawn": EVIDENCE,
        "takes a tenth lower": EVIDENCE.with_rows(_moved(row, "0.9") for row in _takes()),
        "expansion a tenth lower": EVIDENCE.with_rows(_moved(row, "0.9") for row in ratios),
        "donor sites heal a quarter slower": EVIDENCE.with_rows(
            _moved(row, "1.25") for row in EVIDENCE.rows("donor-healing-days")),
        "burn size twice as uncertain": EVIDENCE.with_rows(
            _moved(row, "2") for row in EVIDENCE.rows("burn-size-error")),
    }


def measure(simulated: SimulatedPlan) -> dict[str, np.ndarray]:
    played = simulated.played
    return {"skin": simulated.needs[0].total, "lost": played.failed_cm2,
            "sessions": played.sessions_count.astype(float), "closure": played.closed_day}


@lru_cache(maxsize=8)
def predicted(case: tuple[int, int]) -> tuple[CourseBook, dict[str, np.ndarray]]:
    book = book_of(*case)
    return book, measure(simulate_book(book, EVIDENCE, seed=DEFAULT_SEED, count=COURSES))


def covered(evidence: Evidence) -> dict[str, list[float]]:
    """Share of the truths within each nominal interval, by measure, all cases together. [%]"""
    inside = {name: np.zeros(len(NOMINAL)) for name in MEASURES}
    for case in CASES:
        book, expected = predicted(case)
        true = measure(simulate_book(book, evidence, seed=TRUTH_SEED, count=TRUTHS))
        for name in MEASURES:
            for index, nominal in enumerate(NOMINAL):
                outside = (100 - nominal) / 200
                low, high = np.quantile(expected[name], [outside, 1 - outside], method="inverted_cdf")
                inside[name][index] += 100 * np.mean((true[name] >= low) & (true[name] <= high)) / len(CASES)
    return {name: list(shares) for name, shares in inside.items()}


def write_section() -> str:
    rows = []
    for name, evidence in truths().items():
        found = covered(evidence)
        cells = (", ".join(f"{share:.0f}" for share in found[m]) for m in MEASURES)
        rows.append(f"| {name} | {' | '.join(cells)} |\n")
    note = "\nDays and sessions are whole numbers: their intervals hold more than is meant.\n\n"
    return HEAD + "".join(rows) + note


def replace_section(page: str) -> str:
    """The page with the section as it should be."""
    return re.sub(rf"(?<=\n## {TITLE}\n).*?(?=^## )", lambda _: write_section(), page, flags=re.DOTALL | re.MULTILINE)


if __name__ == "__main__":
    PAGE.write_text(replace_section(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
