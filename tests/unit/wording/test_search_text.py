"""The sentence that whoever waits reads: area and gap are rounded up, and what is not proven is said."""

from decimal import Decimal

import pytest

from service.domain.search_news import SearchNews, SearchStep
from service.wording.languages import Words, languages
from service.wording.search_text import word_best, word_gap, word_step


def news(step=SearchStep.SESSIONS, gap="0.15621", open_cm2="0", sessions=7) -> SearchNews:
    proven = None if gap is None else Decimal(gap)
    return SearchNews(step, Decimal(100), Decimal(90), proven, Decimal(open_cm2), sessions)


@pytest.mark.parametrize("told, best, gap", [
    (news(), "best so far 7 sessions", "gap at most 15.7 %"),
    (news(gap=None, sessions=1), "best so far 1 session", "gap not proven yet"),
    (news(gap="0", open_cm2="1320.2"), "best so far 7 sessions, 1,321 cm² left open", "gap at most 0.0 %"),
])
def test_the_plan_in_hand_is_told(told, best, gap):
    assert (word_best(told), word_gap(told)) == (best, gap)


@pytest.mark.parametrize("code", languages())
def test_every_step_has_its_own_words(code):
    _ = Words(languages()[code])
    assert len({word_step(news(step), _) for step in SearchStep}) == len(SearchStep)
