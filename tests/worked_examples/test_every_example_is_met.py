"""Every worked example of the three evidence pages is computed, or set apart with the reason."""

import csv
from pathlib import Path

import pytest

from tests.worked_examples import test_blood_and_minutes, test_body_surface, test_fluids, test_grafts
from tests.worked_examples.example import Example

#: Numbers of the examples as the pages print them.
PAGES = {
    "assessment": {*range(1, 21), 22, 23, *range(25, 35), *range(37, 44), 49, 52},
    "grafting": {*range(1, 7), 8, 9, *range(11, 16), *range(17, 22), *range(23, 26)},
    "theatre": {1, 2, 3, *range(5, 10), 12},
}
EXAMPLES = [
    example for module in (test_blood_and_minutes, test_body_surface, test_fluids, test_grafts)
    for example in module.EXAMPLES]
def example_of(example: Example) -> tuple[str, str]:
    """Page and number: a page stands in front where a module holds examples of another."""
    first, _, rest = example.number.replace(",", " ").partition(" ")
    if first in PAGES:
        return first, rest.split()[0]
    return "grafting" if example in test_grafts.EXAMPLES else "assessment", first


def computed(page: str) -> set[int]:
    """Numbers of the examples of a page that some test computes."""
    named = [example_of(example) for example in EXAMPLES]
    return {int(number) for of_page, number in named if of_page == page and number.isdigit()}


def set_apart(page: str) -> set[int]:
    with (Path(__file__).parent / "set_apart.csv").open(newline="", encoding="utf-8") as handle:
        rows = [row for row in csv.DictReader(handle) if row["page"] == page]
    assert all(len(row["why"]) > 10 for row in rows)
    return {int(row["number"]) for row in rows}


@pytest.mark.parametrize("page", PAGES)
def test_every_example_is_computed_or_set_apart(page):
    assert PAGES[page] - computed(page) - set_apart(page) == set()


@pytest.mark.parametrize("page", PAGES)
def test_nothing_is_set_apart_that_is_computed_or_not_there(page):
    assert set_apart(page) <= PAGES[page]
    assert set_apart(page) & computed(page) == set()
