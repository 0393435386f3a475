"""Plates of island grafts: wounds of a session share them, and the last one is used up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from service.domain.graft import GraftMethod, SkinClass
from service.planning.course import GraftDraft
from service.planning.quantities import PlanningQuantities

#: Skin placed by method and class. [hundredths of a cm²]
Placed = dict[tuple[GraftMethod, SkinClass], int]


def fill_plates(grafts: Iterable[GraftDraft], quantities: PlanningQuantities) -> list[GraftDraft]:
    """The grafts of a session, what is left of each last plate laid on the largest graft from it."""
    filled = list(grafts)
    for kind, skin in skin_placed(filled).items():
        rest = quantities.in_whole_plates(kind[0], skin) - skin
        if rest:
            largest = max((g for g in filled if (g.method, g.skin_class) == kind), key=lambda g: g.area)
            filled[filled.index(largest)] = replace(largest, skin_hundredths=largest.skin_hundredths + rest)
    return filled


def skin_placed(grafts: Iterable[GraftDraft]) -> Placed:
    placed: Placed = {}
    for graft in grafts:
        kind = graft.method, graft.skin_class
        placed[kind] = placed.get(kind, 0) + graft.skin_hundredths
    return placed


def harvest_needs(placed: Placed, quantities: PlanningQuantities) -> dict[SkinClass, int]:
    """Harvest for what is placed, by class of skin, in whole plates. [tenths of a cm²]"""
    skin: dict[SkinClass, int] = {}
    for (method, skin_class), part in placed.items():
        skin[skin_class] = skin.get(skin_class, 0) + quantities.in_whole_plates(method, part)
    return {skin_class: quantities.harvest_for(part) for skin_class, part in skin.items()}
