"""Intervals hold what they are meant to where the truth is as drawn, and less where it is moved."""

import pytest

from tests.simulation.coverage import NOMINAL, PAGE, TITLE, covered, truths

POINTS = 2


@pytest.fixture(scope="module")
def as_drawn():
    return covered(truths()["as drawn"])


@pytest.mark.parametrize("measure", ["skin", "lost"])
def test_nominal_intervals_hold_their_share_within_two_points(as_drawn, measure):
    assert as_drawn[measure] == pytest.approx(list(NOMINAL), abs=POINTS)


@pytest.mark.parametrize("measure", ["sessions", "closure"])
def test_whole_numbers_are_held_at_least_as_often(as_drawn, measure):
    assert all(share >= nominal - POINTS for share, nominal in zip(as_drawn[measure], NOMINAL, strict=True))


@pytest.mark.parametrize(("moved", "measure"), [
    ("takes a tenth lower", "lost"), ("expansion a tenth lower", "skin"), ("burn size twice as uncertain", "skin")])
def test_a_moved_truth_is_held_less_often(as_drawn, moved, measure):
    assert covered(truths()[moved])[measure][1] < as_drawn[measure][1] - POINTS


def test_the_page_shows_every_truth():
    section = PAGE.read_text(encoding="utf-8").split(f"\n## {TITLE}\n", 1)[1].split("\n## ", 1)[0]
    assert all(f"| {name} |" in section for name in truths())
