"""What more donor skin would be worth, by site and session: the days of a plan solved again with so much more."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

import numpy as np

from service.domain.plan import SettledPlan, SkinPrice
from service.planning.chosen_days import DaysSolved, solve_days
from service.planning.course import start_course
from service.planning.course_classes import WoundClass, left_open, sites_in_reserve
from service.planning.course_model import Choices, Facts
from service.planning.quantities import PlanningQuantities
from service.planning.work import WorkEnded
from service.planning.wound_facts import WoundFacts
from service.solver.answer import LinearSolver
from service.solver.limits import SEARCH

_TENTH = Decimal("0.1")


def skin_prices(quantities: PlanningQuantities, singles: tuple[WoundClass, ...], wounds: tuple[WoundFacts, ...],
                plan: SettledPlan, choices: Choices, solver: LinearSolver) -> tuple[SkinPrice, ...]:
    """Prices above zero, of sites that give skin, in the sessions of a plan. [%TBSA-days per 100 cm²]

    What 100 cm² of fresh skin more on a site, from a session on, would save with the days held as
    they are. Tried where the duals say that skin is scarcest: a dual itself is the worth of the
    first bit in one session only. Empty where the plan leaves open what skin could cover: there
    skin is worth more than days can say.
    """
    days = tuple(session.day for session in plan.firm_sessions)
    course = start_course(quantities, wounds)
    facts = Facts(quantities, left_open(singles, course), sites_in_reserve(course), days[0] if days else None)
    if not days or not facts.wounds:
        return ()
    solved = solve_days(facts, days, choices, solver)
    if solved.amount(solved.course.left_open).any():
        return ()
    more = 1000 / facts.percent
    prices = []
    with suppress(WorkEnded):
        for d, slot in _scarcest(solved):
            again = solve_days(_with_more(facts, d, more, days[slot]), days, choices, solver)
            price = Decimal(solved.cost - again.cost).quantize(_TENTH, ROUND_HALF_UP)
            prices.append(SkinPrice(facts.donors[d].sites[0].site_id, days[slot], price))
    return tuple(price for price in prices if price.days_per_100_cm2 > 0)


def _scarcest(solved: DaysSolved) -> list[tuple[int, int]]:
    """Sites and sessions where a bit more skin is worth most, the most first."""
    worth = np.maximum(0.0, -solved.duals[solved.course.regrowth_rows])
    worth[[donor.area == 0 for donor in solved.course.facts.donors]] = 0.0
    dearest = np.argsort(-worth, axis=None, kind="stable")[:SEARCH.priced]
    return [(int(d), int(slot)) for d, slot in zip(*np.unravel_index(dearest, worth.shape), strict=True)
            if worth[d, slot] > 0]


def _with_more(facts: Facts, index: int, more: float, day: int) -> Facts:
    """The case with so much more fresh skin [%TBSA] on a site from a day on."""
    donor = facts.donors[index]
    larger = replace(donor, area=donor.area + more, fresh=donor.fresh + more,
                     harvests=donor.harvests + more * donor.sites[0].harvests_allowed,
                     supply=(*donor.supply, (more, day, True)))
    return replace(facts, donors=(*facts.donors[:index], larger, *facts.donors[index + 1:]))
