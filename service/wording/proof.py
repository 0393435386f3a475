"""How good a plan is, in words: outcome, what may be left to gain, and the comparison with our own rule."""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal

from service.domain.plan import GraftPlan, PlanOutcome, SearchEnd
from service.wording.places import place_in_words
from service.wording.rounding import TENTH, need_cm2, number_in_words

_OUTCOMES = {
    PlanOutcome.OPTIMAL: "Best plan for these weights and expected values.",
    PlanOutcome.BEST_FOUND: "Best plan found.",
    PlanOutcome.RULE_OF_THUMB: "Rule-of-thumb plan.",
}
_ENDS = {
    SearchEnd.CLOCK: "The time allowed ended the search: with more time another plan may be found.",
    SearchEnd.FAULT: "The search for a better plan failed; nothing of it is used.",
}


def word_proof(plan: GraftPlan) -> list[str]:
    """Sentences on how good the plan is; the plan is one, with or without a proof."""
    sentences = [_OUTCOMES[plan.outcome]]
    if plan.search_end in _ENDS:
        sentences.append(_ENDS[plan.search_end])
    if plan.objective_days is not None:
        sentences.append(f"Weighted open burn-days: {plan.objective_days} %TBSA-days.")
    sentences += _word_gap(plan)
    if plan.thumb_days is not None and plan.outcome is not PlanOutcome.RULE_OF_THUMB:
        sentences.append(_word_comparison(plan))
    if plan.skin_prices:
        sentences.append(_word_dearest_skin(plan))
    return sentences


def _word_dearest_skin(plan: GraftPlan) -> str:
    """Where more donor skin would be worth most, with the sessions as they are."""
    dearest = max(plan.skin_prices, key=lambda price: price.days_per_100_cm2)
    session = next(s.ordinal for s in plan.settled.sessions if s.day == dearest.day)
    return (f"The next 100 cm² of donor skin would be worth most on the {place_in_words(dearest.site_id)} in session "
            f"{session}: about {dearest.days_per_100_cm2} %TBSA-days, less the more of it there is.")


def _word_gap(plan: GraftPlan) -> list[str]:
    if plan.gap is None or plan.bound_days is None:
        return ["No bound is proven."]
    left = max(Decimal(0), plan.objective_days - plan.bound_days)
    percent = number_in_words((plan.gap * 100).quantize(TENTH, ROUND_CEILING), TENTH)
    return [
        f"Best within {percent} % of the days that can be avoided ({left} %TBSA-days) for these weights and "
        "expected values; how sure the values are is the matter of their intervals.",
    ]


def _word_comparison(plan: GraftPlan) -> str:
    """What the search has won; our own simplified rule is no measure of a burn team."""
    beside = "against our own simplified rule, not against usual care"
    less_open = plan.thumb_open_cm2 - plan.settled.open_cm2
    if less_open > 0:
        return f"{need_cm2(less_open)} less left open {beside}."
    won = plan.thumb_days - plan.objective_days
    if won <= 0:
        return f"No days won {beside}."
    return f"{won} %TBSA-days fewer {beside} ({number_in_words(won / plan.thumb_days * 100, TENTH)} %)."
