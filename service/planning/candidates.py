"""Which methods a wound may take, and which of them a level of expansion picks."""

from __future__ import annotations

from service.domain.burn_wound import BedState, BurnWound
from service.domain.case import Act, FixedDecision, GraftingCase
from service.domain.graft import NEEDS_OVERLAY, GraftMethod, methods_of_place
from service.planning.quantities import PlanningQuantities

#: The rule of thumb's ladder of expansion. The widest meshes are left out: islands give more
#: wound per skin where the region takes them, and elsewhere they need an overlay.
LADDER = (
    GraftMethod.MESHED_1_1, GraftMethod.MESHED_1_1_5, GraftMethod.MESHED_1_2, GraftMethod.MESHED_1_3,
    GraftMethod.ISLAND_1_3, GraftMethod.ISLAND_1_4, GraftMethod.ISLAND_1_6, GraftMethod.ISLAND_1_9,
)
STOPPED_BEDS = frozenset({BedState.STREPTOCOCCUS, BedState.INFECTED})


def decided_method(case: GraftingCase, wound: BurnWound) -> GraftMethod | None:
    """The method that the caller has fixed for the wound's region, if any."""
    for decision in case.request.fixed_decisions:
        if decision.act is Act.PLACE and decision.method and is_about(decision, wound):
            return decision.method
    return None


def decided_day(case: GraftingCase, wound: BurnWound) -> int | None:
    """The day that the caller has fixed for excising or grafting the wound's region, if any."""
    for decision in case.request.fixed_decisions:
        if decision.act in (Act.PLACE, Act.EXCISE) and decision.day and is_about(decision, wound):
            return case.day_of(decision.day)
    return None


def is_about(decision: FixedDecision, wound: BurnWound) -> bool:
    return decision.region_key == wound.place.region_key


def candidate_methods(case: GraftingCase, wound: BurnWound) -> frozenset[GraftMethod]:
    """Methods that region, joint, caller and overlay stock allow on a wound; none on a stopped bed."""
    if wound.bed_state in STOPPED_BEDS:
        return frozenset()
    methods = methods_of_place(wound.place, wound.over_joint) & case.request.methods_available
    if not case.request.cover_stock_cm2:
        methods -= NEEDS_OVERLAY
    decided = decided_method(case, wound)
    return methods & {decided} if decided else methods


def allowed_by_expansion(quantities: PlanningQuantities, wound: BurnWound) -> list[GraftMethod]:
    """Candidates from narrow to wide, as achieved; without the widest meshes where others are left."""
    order = list(GraftMethod)
    methods = candidate_methods(quantities.case, wound)
    ordered = sorted(methods, key=lambda m: (quantities.ratio(m), order.index(m)))
    return [m for m in ordered if wound.place.facts.is_whole or m in LADDER] or ordered


def methods_by_expansion(quantities: PlanningQuantities, wound: BurnWound) -> list[GraftMethod]:
    """Methods that a plan chooses from, narrow to wide: whole regions keep the narrowest, their sheet."""
    allowed = allowed_by_expansion(quantities, wound)
    return allowed[:1] if wound.place.facts.is_whole else allowed


def method_at_level(quantities: PlanningQuantities, methods: list[GraftMethod],
                    level: GraftMethod) -> GraftMethod | None:
    """The widest of the methods that does not expand more than the level, else the narrowest.

    ``None`` where no method is allowed at all.
    """
    within = [m for m in methods if quantities.ratio(m) <= quantities.ratio(level)]
    return within[-1] if within else next(iter(methods), None)
