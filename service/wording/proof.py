"""How good a plan is, in words: outcome, what may be left to gain, and the comparison with our own rule."""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal

from service.domain.plan import GraftPlan, PlanOutcome, SearchEnd
from service.wording.languages import ENGLISH, N_, Words
from service.wording.places import place_in_words
from service.wording.rounding import TENTH, need_cm2, number_in_words

_OUTCOMES = {
    PlanOutcome.OPTIMAL: N_("Best plan for these weights and expected values."),
    PlanOutcome.BEST_FOUND: N_("Best plan found."),
    PlanOutcome.RULE_OF_THUMB: N_("Rule-of-thumb plan."),
}
_ENDS = {
    SearchEnd.CLOCK: N_("The time allowed ended the search: with more time another plan may be found."),
    SearchEnd.FAULT: N_("The search for a better plan failed; nothing of it is used."),
}


def word_proof(plan: GraftPlan, _: Words = ENGLISH) -> list[str]:
    """Sentences on how good the plan is; the plan is one, with or without a proof."""
    sentences = [_(_OUTCOMES[plan.outcome])]
    if plan.search_end in _ENDS:
        sentences.append(_(_ENDS[plan.search_end]))
    if plan.objective_days is not None:
        sentences.append(_("Weighted open burn-days: {days} %TBSA-days.", days=plan.objective_days))
    sentences += _word_gap(plan, _)
    if plan.thumb_days is not None and plan.outcome is not PlanOutcome.RULE_OF_THUMB:
        sentences.append(_word_comparison(plan, _))
    if plan.skin_prices:
        sentences.append(_word_dearest_skin(plan, _))
    return sentences


def _word_dearest_skin(plan: GraftPlan, _: Words) -> str:
    """Where more donor skin would be worth most, with the sessions as they are."""
    dearest = max(plan.skin_prices, key=lambda price: price.days_per_100_cm2)
    session = next(s.ordinal for s in plan.settled.sessions if s.day == dearest.day)
    return _("The next 100 cm² of donor skin would be worth most on the {place} in session {session}: about {days} "
             "%TBSA-days, less the more of it there is.", place=place_in_words(dearest.site_id, _), session=session,
             days=dearest.days_per_100_cm2)


def _word_gap(plan: GraftPlan, _: Words) -> list[str]:
    if plan.gap is None or plan.bound_days is None:
        return [_("No bound is proven.")]
    left = max(Decimal(0), plan.objective_days - plan.bound_days)
    percent = number_in_words((plan.gap * 100).quantize(TENTH, ROUND_CEILING), TENTH)
    return [
        _("Best within {percent} % of the days that can be avoided ({left} %TBSA-days), for these weights and expected "
          "values; how sure the values are is told by their intervals.", percent=percent, left=left),
    ]


def _word_comparison(plan: GraftPlan, _: Words) -> str:
    """What the search has won; our own simplified rule is no measure of a burn team."""
    less_open = plan.thumb_open_cm2 - plan.settled.open_cm2
    if less_open > 0:
        return _("Against our own simplified rule, not against usual care: {area} less left open.",
                 area=need_cm2(less_open))
    won = plan.thumb_days - plan.objective_days
    if won <= 0:
        return _("Against our own simplified rule, not against usual care: no days won.")
    return _("Against our own simplified rule, not against usual care: {days} %TBSA-days fewer ({percent} %).",
             days=won, percent=number_in_words(won / plan.thumb_days * 100, TENTH))
