"""Graft methods and the classes of skin they are made of."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from service.domain.body_region import MethodFamily, Place, Region


class GraftKind(StrEnum):
    SHEET = "sheet"
    MESHED = "meshed"
    ISLAND = "island"


class GraftMethod(StrEnum):
    """A method with its claimed expansion; wound per skin, so 1:3 is 3."""

    SHEET = "sheet"
    MESHED_1_1 = "meshed-1-1"
    MESHED_1_1_5 = "meshed-1-1.5"
    MESHED_1_2 = "meshed-1-2"
    MESHED_1_3 = "meshed-1-3"
    MESHED_1_4 = "meshed-1-4"
    MESHED_1_6 = "meshed-1-6"
    ISLAND_1_3 = "island-1-3"
    ISLAND_1_4 = "island-1-4"
    ISLAND_1_6 = "island-1-6"
    ISLAND_1_9 = "island-1-9"

    @property
    def kind(self) -> GraftKind:
        return _KINDS[self]

    @property
    def claimed_expansion_ratio(self) -> Decimal:
        """Wound per skin as the method is named, not as it is achieved."""
        if self is GraftMethod.SHEET:
            return Decimal(1)
        return Decimal(self.value.rsplit("-", 1)[1])


_KINDS = {method: GraftKind(method.value.split("-")[0]) for method in GraftMethod}

NARROW_MESH = frozenset({GraftMethod.MESHED_1_1, GraftMethod.MESHED_1_1_5})
EVERY_MESH = frozenset(m for m in GraftMethod if m.kind is GraftKind.MESHED)
ISLANDS = frozenset(m for m in GraftMethod if m.kind is GraftKind.ISLAND)
OVER_JOINT = frozenset({GraftMethod.SHEET, *NARROW_MESH, GraftMethod.MESHED_1_2})
NEEDS_OVERLAY = frozenset({GraftMethod.MESHED_1_6})
WANTS_OVERLAY = frozenset({GraftMethod.ISLAND_1_6, GraftMethod.ISLAND_1_9})

_FAMILY_METHODS = {
    MethodFamily.SHEET: frozenset({GraftMethod.SHEET}),
    MethodFamily.NARROW_MESH: NARROW_MESH,
    MethodFamily.EVERY_MESH: EVERY_MESH,
    MethodFamily.ISLAND: ISLANDS,
}


def methods_of_place(place: Place, over_joint: bool) -> frozenset[GraftMethod]:
    """Methods that the region table allows on a place; over a joint no islands and at most 1:2."""
    allowed = frozenset().union(*(_FAMILY_METHODS[f] for f in place.facts.methods))
    return allowed & OVER_JOINT if over_joint else allowed


class Thickness(StrEnum):
    """Split-skin thickness class; the millimetres of each class are evidence."""

    THIN = "thin"
    MEDIUM = "medium"
    THICK = "thick"


@dataclass(frozen=True, order=True)
class SkinClass:
    """Skin that is interchangeable: its thickness, and whether it comes from above the clavicle."""

    thickness: Thickness
    above_clavicle: bool

    @property
    def key(self) -> str:
        return f"{self.thickness}-{'above' if self.above_clavicle else 'below'}-clavicle"


def thickness_for(method: GraftMethod, place: Place, *, thick_allowed: bool) -> tuple[Thickness, ...]:
    """Thickness classes that may serve a method on a place, the preferred one first.

    Islands and meshed grafts are cut thin, sheets medium; a sheet on an adult hand thick or
    medium. ``thick_allowed`` is false for the very young and the old.
    """
    if method.kind is GraftKind.ISLAND:
        return (Thickness.THIN,)
    if method.kind is GraftKind.MESHED:
        return (Thickness.THIN, Thickness.MEDIUM)
    if place.region is Region.HAND and thick_allowed:
        return (Thickness.MEDIUM, Thickness.THICK)
    return (Thickness.MEDIUM,)
