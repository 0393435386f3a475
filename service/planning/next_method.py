"""What the next narrower and the next wider method would take and cost, by session."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from service.domain.graft import GraftMethod
from service.domain.plan import Reason, SettledPlan
from service.domain.session import Placement
from service.planning.candidates import LADDER, candidate_methods
from service.planning.objective import weighted_open_days
from service.planning.quantities import PlanningQuantities, cm2, tenths
from service.wording.methods import method_in_words
from service.wording.rounding import TENTH, number_in_words, round_need_up, round_supply_down


def word_next_methods(quantities: PlanningQuantities, plan: SettledPlan) -> tuple[Reason, ...]:
    """For each method of a firm session its neighbours in expansion, where wounds may take them.

    Each says on how much wound, the harvest that the change takes or spares, and what it does to
    the rest of the objective, skin left aside. [cm², %TBSA-days]
    """
    return tuple(
        reason
        for session in plan.firm_sessions
        for (planned, other), changed in _by_change(quantities, plan, session.day).items()
        for reason in _reasons(quantities, plan, session.ordinal, (planned, other), changed)
    )


def _by_change(quantities: PlanningQuantities, plan: SettledPlan,
               day: int) -> dict[tuple[GraftMethod, GraftMethod], list[Placement]]:
    """Placements of a day that could be made otherwise, by their method and its neighbour."""
    changes: dict[tuple[GraftMethod, GraftMethod], list[Placement]] = defaultdict(list)
    for placement in plan.placements:
        if placement.day == day and not placement.is_regraft:
            for other in _neighbours(quantities, placement):
                changes[placement.method, other].append(placement)
    return changes


def _neighbours(quantities: PlanningQuantities, placement: Placement) -> Iterator[GraftMethod]:
    """The closest methods on either side of the planned one that the wound may take; whole regions keep theirs."""
    wound = next(w for w in quantities.case.wounds if w.wound_id == placement.wound_id)
    if wound.place.facts.is_whole:
        return
    allowed = [m for m in LADDER if m in candidate_methods(quantities.case, wound)]
    own = quantities.ratio(placement.method)
    narrower = [m for m in allowed if quantities.ratio(m) < own]
    wider = [m for m in allowed if quantities.ratio(m) > own]
    if narrower:
        yield max(narrower, key=quantities.ratio)
    if wider:
        yield min(wider, key=quantities.ratio)


def _reasons(quantities: PlanningQuantities, plan: SettledPlan, ordinal: int, methods: tuple[GraftMethod, GraftMethod],
             placements: list[Placement]) -> Iterator[Reason]:
    planned, other = methods
    skin = sum((_harvest_cm2(quantities, p, other) - _harvest_cm2(quantities, p, planned) for p in placements),
               Decimal(0))
    if skin == 0:
        return
    days = sum((_cost(quantities, plan, replace(p, method=other)) - _cost(quantities, plan, p) for p in placements),
               Decimal(0))
    area = sum((p.area_cm2 for p in placements), Decimal(0))
    printed = round_need_up(skin) if skin > 0 else round_supply_down(-skin)
    yield Reason("narrower-method" if skin > 0 else "wider-method", ordinal, (
        ("planned", method_in_words(planned)), ("other", method_in_words(other)),
        ("area_cm2", number_in_words(round_need_up(area))), ("skin_cm2", number_in_words(printed)),
        ("days", str(abs(days))), ("better_or_worse", "better" if days < 0 else "worse"),
        ("days_per_100_cm2", number_in_words(abs(days) / abs(skin) * 100, TENTH))))


def _harvest_cm2(quantities: PlanningQuantities, placement: Placement, method: GraftMethod) -> Decimal:
    """Skin to take so that the area of a placement is covered by a method. [cm²]"""
    wound = next(w for w in quantities.case.wounds if w.wound_id == placement.wound_id)
    placed = quantities.skin_hundredths(method, wound.place, tenths(placement.area_cm2))
    return cm2(quantities.harvest_for(placed))


def _cost(quantities: PlanningQuantities, plan: SettledPlan, placement: Placement) -> Decimal:
    """What of the objective depends on the method of one placement, and parts that do not. [%TBSA-days]"""
    return weighted_open_days(quantities, SettledPlan(sessions=plan.sessions, placements=(placement,)))
