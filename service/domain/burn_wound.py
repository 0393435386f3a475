"""Burn wounds: their depth, their bed, and what has already been done to them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from service.domain.body_region import Place
from service.domain.graft import GraftMethod

ZERO = Decimal(0)


class Depth(StrEnum):
    SUPERFICIAL = "superficial"
    SUPERFICIAL_PARTIAL = "superficial-partial"
    DEEP_PARTIAL = "deep-partial"
    INDETERMINATE = "indeterminate"
    FULL_THICKNESS = "full-thickness"


#: Depths that count in %TBSA for fluids: all but erythema.
COUNTS_AS_BURN = frozenset(Depth) - {Depth.SUPERFICIAL}
#: Depths that need a graft; ``INDETERMINATE`` may or may not, and is planned both ways.
NEEDS_GRAFT = frozenset({Depth.DEEP_PARTIAL, Depth.FULL_THICKNESS})


class BedState(StrEnum):
    """State of the wound bed as recorded; ``None`` on a wound means not recorded."""

    READY = "ready"
    UNDER_TEMPLATE = "under-template"
    COLONISED = "colonised"
    INFECTED = "infected"
    STREPTOCOCCUS = "streptococcus"


@dataclass(frozen=True)
class PlacedGraft:
    """A graft already on the wound. ``take_fraction`` is ``None`` until it is read."""

    placed_day: int
    method: GraftMethod
    area_cm2: Decimal
    take_fraction: Decimal | None = None
    take_day: int | None = None


@dataclass(frozen=True)
class BurnWound:
    """One wound that needs (or may need) a graft, as the planner and the verification see it.

    ``area_cm2`` is what still has to be grafted: not yet excised, excised and open, or lost
    again according to a recorded take. Areas stand in steps of 0.1 cm², rounded up.
    ``placed`` lists the grafts that lie on the wound and are not in ``area_cm2``.
    Days count from the as-of day, which is day 0; the past is negative.
    """

    wound_id: str  # place key, depth, and "joint" for the part over a joint
    place: Place
    depth: Depth | None  # None: another open wound, not a burn
    over_joint: bool
    area_cm2: Decimal
    excised_cm2: Decimal = ZERO  # part of area_cm2 whose bed is excised or needs no excision
    covered_cm2: Decimal = ZERO  # part of excised_cm2 under temporary cover
    covered_until_day: int | None = None
    bed_state: BedState | None = None
    ready_from_day: int | None = None  # template or bed ready
    wait_until_day: int | None = None  # a caller watches a deep partial wound until then
    placed: tuple[PlacedGraft, ...] = ()
    dressed_cm2: Decimal = ZERO  # small loss or remainder that heals by dressing; not in area_cm2
    sources: tuple[str, ...] = ()  # record keys this wound was read from

    @property
    def unexcised_cm2(self) -> Decimal:
        return self.area_cm2 - self.excised_cm2


@dataclass(frozen=True)
class BurnExtent:
    """A recorded burn: how much of a place is burned, how deep.

    Exactly one of ``percent_tbsa`` and ``percent_of_region`` is given.
    ``over_joint_fraction`` overrides the usual joint share of the region. [0-1]
    ``watch_until``: a deep partial burn is watched, and not excised, until that day.
    """

    place: Place
    depth: Depth
    percent_tbsa: Decimal | None
    percent_of_region: Decimal | None
    observed: date
    source: str
    over_joint_fraction: Decimal | None = None
    watch_until: date | None = None


@dataclass(frozen=True)
class OpenWound:
    """Another open wound that needs a graft. ``area_cm2`` in cm²."""

    place: Place
    area_cm2: Decimal
    observed: date
    source: str


@dataclass(frozen=True)
class BedRecord:
    """A recorded state of a wound bed. ``ready_from`` for a bed under a template."""

    place: Place
    state: BedState
    observed: date
    source: str
    ready_from: date | None = None
