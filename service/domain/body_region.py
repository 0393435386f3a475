"""Body regions: the one closed table, and the places that wounds and donor sites lie on.

Only what is structural stands here: which sides and surfaces a region has, which graft
methods it takes, whether it gives skin, how it is reached on the table. Its size by age is
``evidence/tables/body_chart.csv``; its weights are preferences.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Region(StrEnum):
    """A region of the body as the burn chart names it."""

    FACE = "face"
    SCALP = "scalp"
    NECK = "neck"
    ANTERIOR_TRUNK = "anterior-trunk"
    POSTERIOR_TRUNK = "posterior-trunk"
    BUTTOCK = "buttock"
    GENITALIA = "genitalia"
    UPPER_ARM = "upper-arm"
    FOREARM = "forearm"
    HAND = "hand"
    THIGH = "thigh"
    LOWER_LEG = "lower-leg"
    FOOT = "foot"


class Side(StrEnum):
    """Side of the patient, never of the observer."""

    LEFT = "left"
    RIGHT = "right"


class Surface(StrEnum):
    """Front or back of the body in the anatomical position."""

    FRONT = "front"
    BACK = "back"


class Position(StrEnum):
    """How the patient lies on the operating table."""

    SUPINE = "supine"
    PRONE = "prone"

    @property
    def other(self) -> Position:
        """Turned over."""
        return Position.PRONE if self is Position.SUPINE else Position.SUPINE


class MethodFamily(StrEnum):
    """The graft methods that a region may take."""

    SHEET = "sheet"
    NARROW_MESH = "narrow-mesh"  # up to claimed 1:1.5
    EVERY_MESH = "every-mesh"
    ISLAND = "island"


BOTH_SURFACES = (Surface.FRONT, Surface.BACK)
EITHER_POSITION = frozenset(Position)
SUPINE_ONLY = frozenset({Position.SUPINE})
PRONE_ONLY = frozenset({Position.PRONE})


@dataclass(frozen=True)
class RegionFacts:
    """What is structurally true of a region.

    ``reached`` gives, for each surface, the positions from which it can be operated on.
    """

    sided: bool
    surfaces: tuple[Surface, ...]
    methods: frozenset[MethodFamily]
    gives_skin: bool
    reached: dict[Surface, frozenset[Position]]
    is_bearing: bool = False  # the back of the lying patient: a fresh graft must be off-loaded
    is_special: bool = False  # needs theatre minutes of its own
    is_whole: bool = False  # grafted whole or not at all, by one method
    above_clavicle: bool = False
    is_limb: bool = False  # a tourniquet can be used


_S, _N, _M, _I = MethodFamily
_TRUNK_METHODS = frozenset({_N, _M, _I})
_EITHER = {surface: EITHER_POSITION for surface in BOTH_SURFACES}

REGIONS: dict[Region, RegionFacts] = {
    Region.FACE: RegionFacts(
        sided=False, surfaces=(Surface.FRONT,), methods=frozenset({_S}), gives_skin=False,
        reached={Surface.FRONT: SUPINE_ONLY}, is_special=True, is_whole=True, above_clavicle=True),
    Region.SCALP: RegionFacts(
        sided=False, surfaces=(Surface.BACK,), methods=frozenset({_S, _N, _M}), gives_skin=True,
        reached={Surface.BACK: SUPINE_ONLY}, is_bearing=True, above_clavicle=True),
    Region.NECK: RegionFacts(
        sided=False, surfaces=BOTH_SURFACES, methods=frozenset({_S, _N}), gives_skin=False,
        reached={s: SUPINE_ONLY for s in BOTH_SURFACES}, is_special=True, is_whole=True),
    Region.ANTERIOR_TRUNK: RegionFacts(
        sided=False, surfaces=(Surface.FRONT,), methods=_TRUNK_METHODS, gives_skin=True,
        reached={Surface.FRONT: SUPINE_ONLY}),
    Region.POSTERIOR_TRUNK: RegionFacts(
        sided=False, surfaces=(Surface.BACK,), methods=_TRUNK_METHODS, gives_skin=True,
        reached={Surface.BACK: PRONE_ONLY}, is_bearing=True),
    Region.BUTTOCK: RegionFacts(
        sided=True, surfaces=(Surface.BACK,), methods=_TRUNK_METHODS, gives_skin=True,
        reached={Surface.BACK: PRONE_ONLY}, is_bearing=True),
    Region.GENITALIA: RegionFacts(
        sided=False, surfaces=(Surface.FRONT,), methods=frozenset(), gives_skin=False,
        reached={Surface.FRONT: SUPINE_ONLY}, is_special=True),
    Region.UPPER_ARM: RegionFacts(
        sided=True, surfaces=BOTH_SURFACES, methods=_TRUNK_METHODS, gives_skin=True,
        reached=_EITHER, is_limb=True),
    Region.FOREARM: RegionFacts(
        sided=True, surfaces=BOTH_SURFACES, methods=_TRUNK_METHODS, gives_skin=True,
        reached=_EITHER, is_limb=True),
    Region.HAND: RegionFacts(
        sided=True, surfaces=BOTH_SURFACES, methods=frozenset({_S, _N}), gives_skin=False,
        reached=_EITHER, is_special=True, is_whole=True, is_limb=True),
    Region.THIGH: RegionFacts(
        sided=True, surfaces=BOTH_SURFACES, methods=_TRUNK_METHODS, gives_skin=True,
        reached={Surface.FRONT: SUPINE_ONLY, Surface.BACK: PRONE_ONLY}, is_limb=True),
    Region.LOWER_LEG: RegionFacts(
        sided=True, surfaces=BOTH_SURFACES, methods=_TRUNK_METHODS, gives_skin=True,
        reached=_EITHER, is_limb=True),
    Region.FOOT: RegionFacts(
        sided=True, surfaces=BOTH_SURFACES, methods=frozenset({_S, _N, _M}), gives_skin=False,
        reached=_EITHER, is_limb=True),
}


@dataclass(frozen=True)
class Place:
    """One surface of one region on one side: where a wound or a donor site lies.

    ``side`` is ``None`` exactly for regions that have no side.
    """

    region: Region
    side: Side | None
    surface: Surface

    def __post_init__(self) -> None:
        facts = REGIONS[self.region]
        if facts.sided != (self.side is not None):
            raise ValueError(f"{self.region}: side must {'' if facts.sided else 'not '}be given")
        if self.surface not in facts.surfaces:
            raise ValueError(f"{self.region} has no {self.surface}")

    @property
    def facts(self) -> RegionFacts:
        return REGIONS[self.region]

    @property
    def reached(self) -> frozenset[Position]:
        """Positions in which the surgeon can work on this place."""
        return self.facts.reached[self.surface]

    @property
    def loaded_in(self) -> Position | None:
        """The lying position in which the body's weight rests on this place, if any."""
        if self.facts.is_bearing:
            return Position.SUPINE
        if self.region in (Region.FACE, Region.ANTERIOR_TRUNK):
            return Position.PRONE
        if self.region is Region.THIGH and self.surface is Surface.FRONT:
            return Position.PRONE
        return None

    @property
    def key(self) -> str:
        """Stable name, for identifiers: ``left-thigh-front``, ``face``."""
        parts = [self.side] if self.side else []
        parts.append(self.region)
        if len(self.facts.surfaces) > 1:
            parts.append(self.surface)
        return "-".join(parts)

    @property
    def region_key(self) -> str:
        """The region with its side, both surfaces together: ``left-thigh``."""
        return f"{self.side}-{self.region}" if self.side else str(self.region)


def all_places() -> tuple[Place, ...]:
    """Every place of the body, in region order, left before right, front before back."""
    return tuple(
        Place(region, side, surface)
        for region, facts in REGIONS.items()
        for side in (tuple(Side) if facts.sided else (None,))
        for surface in facts.surfaces
    )
