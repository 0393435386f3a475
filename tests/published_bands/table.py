"""What publications print against what the service plans; as a command, writes the developers' page anew."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from statistics import median

from tests.conftest import ROOT
from tests.published_bands.courses import Course, Practice, adult_courses, old_courses

PAGE = ROOT / "DEVELOPERS.md"
BANDS = Path(__file__).parent / "bands.csv"
TITLE = "Published against planned"
LARGE_PERCENT = 65
HEAD = """
Invented adults of 75 kg with deep burns of 35 to 75 %TBSA, three of each size, and old ones with 15 and 25 %TBSA,
planned from the third day after the injury (`tests/published_bands/courses.py`): median, lowest and highest. *Blood
sparing* is the same patients with tourniquets, the whole blood volume replaced and lists of eight hours. Nothing is
tuned to meet a band. `.venv/bin/python -m tests.published_bands.table` writes this section anew.

| Measure | Published | Planned | Blood sparing | Why they differ |
|---|---|---|---|---|
"""
FACTS = """
Facts that plans show without being told stand in `tests/reference/test_published_facts.py`, each with its source: the
single-harvest limit, at 1:1 and wider; sheet and narrow mesh for four fifths and more of what is grafted up to
45 %TBSA, and islands where skin does not suffice, by default; no near-total burn closed in a few sessions, by default
too. About 20 %TBSA in an island session (17 where skin allows meshes beside them), and two to three of them, show where
blood is spared, and not by default; together they cover 20 to 67 %TBSA, for meshes share the sessions. The limit of
20 %TBSA for a session is a preference; that islands fill it, and in how many sessions, is not.
"""


def read_bands() -> list[dict[str, str]]:
    with BANDS.open(newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


def planned(measure: str, practice: Practice) -> list[Decimal]:
    """The values of a measure, one for each session or course that it is about."""
    adults, old = adult_courses(practice), old_courses(practice)
    with_islands = [course for course in adults if course.island_percents]
    values: dict[str, Iterable] = {
        "island-area-of-a-session": (area for course in with_islands for area in course.island_percents),
        "area-of-a-session-in-the-old": (area for course in old for area in course.session_percents),
        "island-sessions": (len(course.island_percents) for course in with_islands),
        "sessions-of-the-largest-burns": (len(course.session_percents) for course in _large(adults)),
        "skin-for-islands": (course.island_skin_percent for course in with_islands),
        "closure": (course.closure_day for course in adults if course.closure_day is not None),
    }
    return [Decimal(value) for value in values[measure]]


def _large(courses: Iterable[Course]) -> list[Course]:
    return [course for course in courses if course.burn_percent_tbsa >= LARGE_PERCENT]


def word_values(values: list[Decimal]) -> str:
    """``8 (2-11)``: median, lowest, highest."""
    if not values:
        return "none"
    return f"{median(values):.0f} ({min(values):.0f}-{max(values):.0f})"


def write_section() -> str:
    """The text between the title of the section and the next title."""
    return HEAD + "".join(map(_write_row, read_bands())) + FACTS + "\n"


def _write_row(band: dict[str, str]) -> str:
    measure = f"{band['measure'].replace('-', ' ').capitalize()}, {band['unit']}"
    usual, sparing = (word_values(planned(band["measure"], practice)) for practice in Practice)
    return f"| {measure} | {band['published']} ({band['source']}) | {usual} | {sparing} | {band['why']} |\n"


def replace_section(page: str) -> str:
    """The page with the section as it should be."""
    return re.sub(rf"(?<=\n## {TITLE}\n).*?(?=^## )", lambda _: write_section(), page, flags=re.DOTALL | re.MULTILINE)


if __name__ == "__main__":
    PAGE.write_text(replace_section(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
