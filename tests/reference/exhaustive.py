"""Every set of session days of a small case, an exact problem for each: the best plan there is, built and verified.

Independent of the planner: the problem is the plain formulation, plans are built from their pieces alone, and
verification and the replayed objective judge them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from itertools import combinations, pairwise
from math import inf

from service.domain.case import GraftingCase
from service.domain.graft import GraftKind
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.verification.verify import verify_plan
from tests.reference.case_numbers import CaseNumbers
from tests.reference.exact_plan import TENTH, Piece, PlanBuilder, Wishes
from tests.reference.plain_formulation import PlainFormulation
from tests.reference.replay import Replay

#: Shares of limits and skin that are left free, one after the other, while rounding breaks a rule.
MARGINS = (Decimal("0.005"), Decimal("0.02"))
#: How near to its optimum an exact problem is solved. [share]
NEAR = 5e-4
#: Less than this is rounding. [cm²]
CRUMB_CM2 = Decimal("0.5")


@dataclass(frozen=True)
class DaySet:
    """One set of session days with the optimum of its problem. [%TBSA-days, %TBSA]"""

    days: tuple[int, ...]
    with_price_of_open: float
    open_percent: float
    objective_days: float
    pieces: tuple[tuple[Piece, ...], ...]
    wishes: Wishes

    @property
    def rank(self) -> tuple:
        return round(self.open_percent, 3), self.objective_days


@dataclass(frozen=True)
class Exhaustive:
    """Sets of days near the best, the best first, and the best plan that was built and accepted, if one was."""

    day_sets: tuple[DaySet, ...]
    plan: SettledPlan | None
    objective_days: Decimal | None


def search_exhaustively(case: GraftingCase, evidence: Evidence, preferences: Preferences) -> Exhaustive:
    """Solve every set of days, most sessions first, then build the plan of the best; the next best if that fails.

    A set that cannot come within the worth of one session of the best so far is only shown to be so.
    """
    found: list[DaySet] = []
    worth = float(preferences.value("session-weight"))
    for days in sorted(_sets_of_days(case), key=lambda days: -len(days)):
        best = min((day_set.with_price_of_open for day_set in found), default=None)
        day_set = _solve(case, days, evidence, preferences, at_most=None if best is None else best + worth)
        found += [day_set] if day_set is not None else []
    found.sort(key=lambda day_set: day_set.rank)
    for day_set in found:
        plan = _build(case, day_set, evidence, preferences)
        if plan is not None:
            return Exhaustive(tuple(found), plan, Replay(case, plan, evidence, preferences).objective_days())
    return Exhaustive(tuple(found), None, None)


def _sets_of_days(case: GraftingCase) -> Iterator[tuple[int, ...]]:
    days = [case.day_of(theatre.day) for theatre in case.request.theatre_days]
    for count in range(len(days) + 1):
        for chosen in combinations(days, count):
            if all(later - earlier >= case.limits.rest_days for earlier, later in pairwise(chosen)):
                yield chosen


def _solve(case: GraftingCase, days: tuple[int, ...], evidence: Evidence, preferences: Preferences, *,
           at_most: float | None = None) -> DaySet | None:
    """The optimum of a set of days; ``None`` if it costs more or a session would have nothing to do."""
    formulation = PlainFormulation(CaseNumbers(case, evidence, preferences), days, patches=False, are_held=True)
    problem = formulation.problem
    if at_most is not None:
        problem.row(-inf, at_most - problem.constant, dict(enumerate(problem.cost)))
    solved = problem.solve_with_highs(relative_gap=NEAR)
    if at_most is not None and solved.status == "Infeasible":
        return None
    if solved.status != "Optimal":
        raise AssertionError(f"an exact problem ended as {solved.status}")
    grafted = _pieces(case, formulation, solved.values)
    if {piece.day for pieces in grafted for piece in pieces} != set(days):
        return None
    open_percent = sum(float(solved.values[column]) for column in formulation.left_open)
    objective_days = formulation.days_without_price_of_open(solved.objective, solved.values)
    return DaySet(days, solved.objective, open_percent, objective_days, grafted,
                  _wishes(case, formulation, solved.values))


def _pieces(case: GraftingCase, formulation: PlainFormulation, values) -> tuple[tuple[Piece, ...], ...]:
    """What is grafted of each wound, in whole 0.1 cm²; what rounding leaves goes to the largest piece, best a mesh."""
    pieces: list[tuple[Piece, ...]] = []
    for p, wound in enumerate(case.wounds):
        made = []
        for graft in formulation.grafts:
            percent = sum(float(values[column]) * share for column, share in graft.area.items())
            area = Decimal(percent * formulation.numbers.cm2 + 1e-6).quantize(TENTH, ROUND_FLOOR)
            if graft.wound == p and area > CRUMB_CM2:
                day = formulation.days[graft.slot]
                made.append(Piece(day, graft.method, area))
        left = wound.area_cm2 - sum((piece.area_cm2 for piece in made), Decimal(0))
        if made and left <= TENTH * len(made):
            largest = max(made, key=lambda piece: (piece.method.kind is not GraftKind.ISLAND, piece.area_cm2))
            made[made.index(largest)] = replace(largest, area_cm2=largest.area_cm2 + left)
        pieces.append(tuple(made))
    return tuple(pieces)


def _wishes(case: GraftingCase, formulation: PlainFormulation, values) -> Wishes:
    """Skin from each site on each day, rounded up to 0.1 cm²."""
    wishes: Wishes = {}
    for site, columns in zip(case.donor_sites, formulation.harvests, strict=True):
        for t, day in enumerate(formulation.days):
            percent = sum(float(values[column]) for (_, slot), column in columns.items() if slot == t)
            area = Decimal(percent * formulation.numbers.cm2 - 1e-6).quantize(TENTH, ROUND_CEILING)
            if area > 0:
                wishes[day, site.site_id] = area
    return wishes


def _build(case: GraftingCase, day_set: DaySet, evidence: Evidence, preferences: Preferences) -> SettledPlan | None:
    """The plan of a set of days; again with a little room where rounding broke a rule."""
    builder = PlanBuilder(case, evidence, preferences)
    for margin in (None, *MARGINS):
        solved = day_set if margin is None else _solve(_shrunk(case, margin), day_set.days, evidence, preferences)
        plan = solved and builder.plan(solved.pieces, solved.wishes)
        if plan is not None and verify_plan(case, plan, evidence, preferences) == ():
            return plan
    return None


def _shrunk(case: GraftingCase, margin: Decimal) -> GraftingCase:
    limits, less = case.limits, 1 - margin
    sites = tuple(
        replace(site, area_cm2=site.area_cm2 * less,
                parcels=tuple(replace(parcel, area_cm2=parcel.area_cm2 * less) for parcel in site.parcels))
        for site in case.donor_sites)
    return replace(case, donor_sites=sites, limits=replace(
        limits, excised_cm2=limits.excised_cm2 * less, grafted_cm2=limits.grafted_cm2 * less,
        blood_ml=limits.blood_ml * less))
