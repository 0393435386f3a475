"""How far a search has come, in one sentence: its step, the plan in hand, and what may be left to gain."""

from __future__ import annotations

from decimal import ROUND_CEILING

from service.domain.search_news import SearchNews, SearchStep
from service.wording.languages import ENGLISH, N_, Words
from service.wording.rounding import TENTH, need_cm2, number_in_words

_STEPS = {
    SearchStep.BOUND: N_("Working out how good a plan can be"),
    SearchStep.DAYS: N_("Choosing the days of the sessions"),
    SearchStep.SESSIONS: N_("Filling the sessions"),
    SearchStep.PROOF: N_("Proving how good the plan is"),
    SearchStep.COURSES: N_("Simulating courses of the plan"),
    SearchStep.OTHERS: N_("Looking for other plans beside it"),
    SearchStep.EARLIER: N_("Planning the record before, to compare"),
}


def word_step(news: SearchNews, _: Words = ENGLISH) -> str:
    """What is being done."""
    return _(_STEPS[news.step])


def word_best(news: SearchNews, _: Words = ENGLISH) -> str:
    """``best so far 7 sessions, 320 cm² left open``; the area is rounded up."""
    best = _.ngettext("best so far {num} session", "best so far {num} sessions", news.session_count)
    return _("{best}, {area} left open", best=best, area=need_cm2(news.open_cm2)) if news.open_cm2 else best


def word_gap(news: SearchNews, _: Words = ENGLISH) -> str:
    """``gap at most 15.7 %``, rounded up; or that nothing is proven yet."""
    if news.gap is None:
        return _("gap not proven yet")
    percent = (news.gap * 100).quantize(TENTH, ROUND_CEILING)
    return _("gap at most {percent} %", percent=number_in_words(percent, TENTH))
