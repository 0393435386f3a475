"""The catalogue of bad input: what each line is, and every case that the reader or the planner decides."""

from __future__ import annotations

import csv
from pathlib import Path

from tests.bad_input.clinical_lines import CODES, CONTRADICTIONS
from tests.bad_input.identity_lines import IDENTITY, PARAMETERS
from tests.bad_input.syntax_lines import SIZE, SYNTAX
from tests.bad_input.value_lines import DATES, NUMBERS, TEXT, UNITS

LINES = range(1, 153)

CASES = [*SYNTAX, *SIZE, *TEXT, *NUMBERS, *DATES, *UNITS, *CODES, *CONTRADICTIONS, *IDENTITY, *PARAMETERS]


def read_catalogue() -> dict[int, dict[str, str]]:
    """Each line with what is sent, the statuses it ends in, and what is told."""
    with (Path(__file__).parent / "catalogue.csv").open(newline="", encoding="utf-8") as handle:
        return {int(row["line"]): row for row in csv.DictReader(handle)}
