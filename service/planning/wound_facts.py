"""What stays the same about a wound during one planning: looked up once, read often."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from service.domain.body_region import Position, Region
from service.domain.burn_wound import BurnWound
from service.domain.case import GraftingCase
from service.domain.graft import GraftMethod, SkinClass, thickness_for
from service.planning.candidates import candidate_methods, decided_day, method_at_level, methods_by_expansion
from service.planning.quantities import PlanningQuantities, tenths


@dataclass(frozen=True)
class MethodFacts:
    """A method on a wound: its skin, and harvest per wound covered (a float, for search only)."""

    method: GraftMethod
    below_clavicle: SkinClass
    above_clavicle: SkinClass
    harvest_per_area: float

    def skin_class(self, above: bool) -> SkinClass:
        return self.above_clavicle if above else self.below_clavicle


class WoundFacts:
    """Facts of one wound. Areas in tenths of a cm²."""

    def __init__(self, wound: BurnWound, quantities: PlanningQuantities) -> None:
        case: GraftingCase = quantities.case
        self.wound = wound
        self.wound_id = wound.wound_id
        self.quantities = quantities
        self.place = wound.place
        self.area = tenths(wound.area_cm2)
        self.piece = min(quantities.smallest_piece, self.area)
        self.weight = float(quantities.weight(wound.place.region))
        self.region_order = list(Region).index(wound.place.region)
        self.reached = wound.place.reached
        self.loaded: Position | None = None if case.off_loading else wound.place.loaded_in
        self.excision_ml = float(quantities.excision_ml(wound.place))
        self.is_whole = wound.place.facts.is_whole
        self.special_region = wound.place.region_key if wound.place.facts.is_special else None
        self.methods = methods_by_expansion(quantities, wound)
        self.is_plannable = bool(self.methods)
        self.only_day = decided_day(case, wound)
        waits = [wound.ready_from_day, wound.wait_until_day]
        if wound.place.region is Region.FACE:
            waits.append(quantities.face_from_day)
        self.earliest_day = max((d for d in waits if d is not None), default=0)
        self._levels: dict[GraftMethod, MethodFacts | None] = {}

    def is_ready(self, day: int, *, is_regraft: bool = False) -> bool:
        """Whether the wound may be excised or grafted on a day at all."""
        decided = is_regraft or self.only_day is None or self.only_day == day
        return decided and day >= self.earliest_day

    def at_level(self, level: GraftMethod) -> MethodFacts | None:
        if level not in self._levels:
            self._levels[level] = self._method_facts(method_at_level(self.quantities, self.methods, level))
        return self._levels[level]

    def _method_facts(self, method: GraftMethod | None) -> MethodFacts | None:
        if method is None:
            return None
        thickness = thickness_for(method, self.place, thick_allowed=self.quantities.case.thick_skin_allowed)[0]
        coverage = float(self.quantities.coverage(method, self.place) * self.quantities.kept_fraction)
        return MethodFacts(method, SkinClass(thickness, False), SkinClass(thickness, True), 1 / coverage)

    @cached_property
    def sources_of_skin(self) -> tuple[bool, ...]:
        """Whether skin may come from above the clavicle (true) or below (false), in which order.

        The face takes skin from above where those sites can cover it; other wounds take it
        last, and not while the face waits for it.
        """
        face_first = self.quantities.face_needs_skin_from_above
        if self.place.region is Region.FACE:
            return (True,) if face_first else (False,)
        return (False,) if face_first else (False, True)

    @cached_property
    def is_reserved(self) -> bool:
        """Whether what is lost on the wound's region may be too much to heal by dressing, and so needs skin."""
        takes = [self.quantities.take(m, self.wound) for m in candidate_methods(self.quantities.case, self.wound)]
        is_never_small = bool(takes) and 1 - max(takes) >= self.quantities.regraft_fraction
        return is_never_small and largest_loss(self.quantities, self.place.region_key) > self.quantities.regraft_percent


def largest_loss(quantities: PlanningQuantities, region_key: str) -> Fraction:
    """What is lost of a region grafted whole by the method that takes worst. [%TBSA]"""
    lost = Fraction(0)
    for wound in quantities.case.wounds:
        if wound.place.region_key == region_key:
            takes = [quantities.take(m, wound) for m in candidate_methods(quantities.case, wound)]
            lost += quantities.percent(tenths(wound.area_cm2)) * (1 - min(takes, default=Fraction(1)))
    return lost
