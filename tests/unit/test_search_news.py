"""Whoever waits for a plan sees it come nearer to the best; the plan is the same whether anybody looks or not."""

from decimal import Decimal

import pytest

from service.domain.search_news import SearchNews, SearchStep, SearchWatch
from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests.conftest import SAMPLES

PARTS = build_parts(Settings())


class Recording(SearchWatch):
    """Keeps every piece of news, where whoever waits sees only the latest."""

    def __init__(self) -> None:
        self.told: list[SearchNews] = []

    @property
    def latest(self) -> SearchNews | None:
        return self.told[-1] if self.told else None

    @latest.setter
    def latest(self, news: SearchNews) -> None:
        self.told.append(news)


def watched(sample: str) -> tuple[Recording, object]:
    watch = Recording()
    return watch, answer_plan_request(PARTS, (SAMPLES / f"{sample}.json").read_bytes(), watch=watch)


@pytest.mark.parametrize("sample", ["infant-20-percent", "adult-60-percent-after-session-2-poor-take"])
def test_no_plan_in_hand_is_worse_than_the_one_before_and_the_gap_never_grows(sample):
    told = watched(sample)[0].told
    for before, after in zip(told, told[1:], strict=False):
        assert (after.open_cm2, after.objective_days) <= (before.open_cm2, before.objective_days)
        if before.gap is not None and after.open_cm2 == before.open_cm2:
            assert after.gap <= before.gap
    assert told[0].gap is None
    assert told[-1].gap < next(news.gap for news in told if news.gap is not None)


def test_every_step_is_told_in_its_order_and_the_last_news_are_those_of_the_answer():
    watch, reply = watched("infant-20-percent")
    assert [*dict.fromkeys(news.step for news in watch.told), SearchStep.EARLIER] == list(SearchStep)
    last, plan = watch.latest, reply.answer.plan
    assert (last.objective_days, last.bound_days, last.gap) == (plan.objective_days, plan.bound_days, plan.gap)
    assert (last.open_cm2, last.session_count) == (plan.settled.open_cm2, len(plan.settled.firm_sessions))


def test_a_record_with_its_earlier_plan_is_planned_as_it_was_at_the_end():
    assert watched("replanned-donor-still-healing")[0].told[-1].step in (SearchStep.OTHERS, SearchStep.EARLIER)


def test_who_looks_changes_no_byte_of_the_answer():
    body = (SAMPLES / "infant-20-percent.json").read_bytes()
    assert watched("infant-20-percent")[1].sha256 == answer_plan_request(PARTS, body).sha256


def test_without_a_plan_there_is_no_news():
    assert watched("comfort-care")[0].latest is None


def test_a_step_without_a_plan_in_hand_says_nothing():
    watch = SearchWatch()
    watch.step_on(SearchStep.COURSES)
    assert watch.latest is None
    watch.latest = SearchNews(SearchStep.PROOF, Decimal(1), None, None, Decimal(0), 1)
    watch.step_on(SearchStep.COURSES)
    assert watch.latest == SearchNews(SearchStep.COURSES, Decimal(1), None, None, Decimal(0), 1)
