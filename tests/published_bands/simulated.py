"""Simulated courses of the planned patients in the numbers that publications print; writes its section anew."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from service.planning.quantities import PlanningQuantities
from service.simulation.course_book import write_book
from service.simulation.simulate import DEFAULT_SEED, simulate_book
from tests.published_bands.courses import (
    ADULT,
    ADULT_PERCENTS,
    EVIDENCE,
    PREFERENCES,
    REQUESTS,
    SEEDS,
    Practice,
    answer_for,
)
from tests.published_bands.table import PAGE

BANDS = Path(__file__).parent / "simulated_bands.csv"
TITLE = "Published against simulated"
COURSES = 300
HEAD = f"""
The same invented adults, each plan played in {COURSES} simulated courses, all pooled: median, and the range of the
middle 80 %. The same columns as above. Nothing is tuned to meet a band.
`.venv/bin/python -m tests.published_bands.simulated` writes this section anew.

| Measure | Published | Simulated | Blood sparing | Why they differ |
|---|---|---|---|---|
"""


@dataclass(frozen=True)
class Pooled:
    """Values of every simulated course, by measure."""

    values: dict[str, np.ndarray]
    open_fraction: float  # courses not closed by the end of the plan


@lru_cache(maxsize=4)
def simulate_adults(practice: Practice) -> Pooled:
    """Every adult of the published case mix, all courses together."""
    parts = [_courses_of(percent, seed, practice) for percent in ADULT_PERCENTS for seed in SEEDS]
    pooled = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    is_closed = np.isfinite(pooled["closure"])
    return Pooled(pooled, float(1 - is_closed.mean()))


def _courses_of(percent: int, seed: int, practice: Practice) -> dict[str, np.ndarray]:
    answer = answer_for(percent, seed, ADULT, practice)
    preferences = PREFERENCES.with_overrides(REQUESTS[practice].get("preferences", ()))
    book = write_book(PlanningQuantities(answer.case, EVIDENCE, preferences), answer.plan.settled)
    played = simulate_book(book, EVIDENCE, seed=DEFAULT_SEED, count=COURSES).played
    percent_cm2 = float(answer.case.body_surface_m2) * 100
    grafted = played.grafted_cm2.sum(axis=0)
    wounds = sum(wound.area_cm2 for wound in book.wounds)
    return {
        "take": 100 * (1 - played.failed_cm2 / grafted),
        "grafted-again": 100 * np.maximum(0, grafted - wounds) / wounds,
        "area-of-a-session": played.grafted_cm2[played.grafted_cm2 > 0] / percent_cm2,
        "sessions": played.sessions_count,
        "closure": played.closed_day - answer.case.injury_day,
        "burn": np.full(COURSES, percent),
    }


def word_values(values: np.ndarray) -> str:
    """``84 (62-95)``: median and the middle 80 %; what does not close counts as later than all."""
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9], method="inverted_cdf")
    end = f"{high:.0f}" if np.isfinite(high) else "not by day 90"
    return f"{middle:.0f} ({low:.0f}-{end})" if np.isfinite(high) else f"{middle:.0f} ({low:.0f} to {end})"


def read_bands() -> list[dict[str, str]]:
    with BANDS.open(newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


def write_section() -> str:
    """The text between the title of the section and the next title."""
    rows = []
    for band in read_bands():
        usual, sparing = (word_values(simulate_adults(practice).values[band["measure"]]) for practice in Practice)
        measure = f"{band['measure'].replace('-', ' ').capitalize()}, {band['unit']}"
        rows.append(f"| {measure} | {band['published']} ({band['source']}) | {usual} | {sparing} | {band['why']} |\n")
    return HEAD + "".join(rows) + "\n"


def replace_section(page: str) -> str:
    """The page with the section as it should be."""
    return re.sub(rf"(?<=\n## {TITLE}\n).*?(?=^## )", lambda _: write_section(), page, flags=re.DOTALL | re.MULTILINE)


if __name__ == "__main__":
    PAGE.write_text(replace_section(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
