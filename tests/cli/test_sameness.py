"""The same request gives the same bytes: in fresh processes, with other hash seeds, in another order, side by side."""

from decimal import Decimal

from service.planning import work
from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests.bench.sameness import distinct_answers, hashes_of_runs
from tests.conftest import FIRST_PLAN

SECONDS = "1"
SMALL, LARGE = "hands-and-face-12-percent", FIRST_PLAN.stem


def test_fresh_processes_give_the_same_bytes():
    found = hashes_of_runs(3, (SMALL, LARGE), ("--seconds", SECONDS))
    assert distinct_answers(found) == {SMALL: 1, LARGE: 1}


def test_the_search_of_the_large_burn_ends_by_its_work(monkeypatch):
    ends = []

    class Noted(work.WorkEnded):
        def __init__(self) -> None:
            ends.append(self)

    monkeypatch.setattr(work, "WorkEnded", Noted)
    answer_plan_request(build_parts(Settings()), FIRST_PLAN.read_bytes(), seconds=Decimal(SECONDS))
    assert ends


def test_another_answer_is_counted():
    assert distinct_answers([{SMALL: "a", LARGE: "a"}, {SMALL: "a", LARGE: "b"}]) == {SMALL: 1, LARGE: 2}
