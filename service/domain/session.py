"""Theatre sessions and the acts in them. Areas in cm², 0.1 steps; days from the as-of day."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from service.domain.body_region import Position
from service.domain.graft import GraftMethod, SkinClass


class CoverKind(StrEnum):
    TEMPORARY = "temporary"  # on an excised bed that is not grafted yet
    OVERLAY = "overlay"  # over a widely expanded graft


@dataclass(frozen=True)
class Session:
    """One visit to theatre.

    ``is_contingent``: only needed if grafts fail; no dated Task but the inspection.
    ``binding_rules``: codes of the rules that stopped the session from doing more.
    """

    ordinal: int
    day: int
    positions: tuple[Position, ...]
    is_contingent: bool
    procedure_minutes: int
    blood_loss_ml: int  # cautious end
    units_to_have_ready: int
    binding_rules: tuple[str, ...] = ()


@dataclass(frozen=True)
class Excision:
    day: int
    wound_id: str
    area_cm2: Decimal


@dataclass(frozen=True)
class Placement:
    """A graft to place: the wound area it covers and the skin it uses.

    ``skin_cm2`` is skin placed, after trimming; ``plates`` is set for islands and then
    ``skin_cm2`` = plates × plate area. Wounds of a session may share a plate, in parts; what a
    session uses of a method and class of skin is whole plates. ``is_regraft`` marks a regraft that is only needed if
    grafts fail.
    """

    day: int
    wound_id: str
    method: GraftMethod
    area_cm2: Decimal
    skin_class: SkinClass
    skin_cm2: Decimal
    plates: Decimal | None = None
    is_regraft: bool = False


@dataclass(frozen=True)
class CoverPlacement:
    """Temporary cover or overlay; protects the bed through ``until_day``."""

    day: int
    wound_id: str
    kind: CoverKind
    area_cm2: Decimal
    until_day: int
