"""What more donor skin would be worth, by site and session: duals of its supply at the days of a plan."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from service.domain.plan import SettledPlan, SkinPrice
from service.planning.chosen_days import solve_days
from service.planning.course import start_course
from service.planning.course_classes import WoundClass, left_open, sites_in_reserve
from service.planning.course_model import Choices, Facts
from service.planning.quantities import PlanningQuantities
from service.planning.wound_facts import WoundFacts
from service.solver.answer import LinearSolver

_TENTH = Decimal("0.1")


def skin_prices(quantities: PlanningQuantities, singles: tuple[WoundClass, ...], wounds: tuple[WoundFacts, ...],
                plan: SettledPlan, choices: Choices, solver: LinearSolver) -> tuple[SkinPrice, ...]:
    """Prices above zero, of sites that give skin, in the sessions of a plan. [%TBSA-days per 100 cm²]

    The price of the next usable skin with the days held as they are; a large harvest more is
    worth less than so many times the price. Empty where the plan leaves open what skin could
    cover: there skin is worth more than days can say.
    """
    days = tuple(session.day for session in plan.firm_sessions)
    course = start_course(quantities, wounds)
    facts = Facts(quantities, left_open(singles, course), sites_in_reserve(course), days[0] if days else None)
    if not days or not facts.wounds:
        return ()
    solved = solve_days(facts, days, choices, solver)
    if solved.amount(solved.course.left_open).any():
        return ()
    per_100_cm2 = 1000 / facts.percent
    prices = []
    for d, donor in enumerate(facts.donors):
        for slot, row in enumerate(solved.course.regrowth_rows[d]):
            price = Decimal(-float(solved.duals[row]) * per_100_cm2).quantize(_TENTH, ROUND_HALF_UP)
            if price > 0 and donor.area > 0:
                prices.append(SkinPrice(donor.sites[0].site_id, days[slot], price))
    return tuple(prices)
