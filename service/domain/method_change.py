"""What the next narrower or wider method would take and cost on the wounds of a session."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.domain.burn_wound import ZERO
from service.domain.graft import GraftMethod


@dataclass(frozen=True)
class WoundChange:
    """One wound of a session grafted by another method.

    ``place_key``: its region and side, and the part at a joint. ``skin_cm2``: skin to harvest more, below
    zero where some is spared. ``days``: what closure and scar cost more, below zero where
    they are better. [%TBSA-days]
    """

    place_key: str
    skin_cm2: Decimal
    days: Decimal


@dataclass(frozen=True)
class MethodChange:
    """All wounds of a session that could change from one method to the same other, with the same effect.

    ``other`` is next to ``planned`` in expansion, of the methods that these wounds may take.
    """

    session: int
    planned: GraftMethod
    other: GraftMethod
    wounds: tuple[WoundChange, ...]

    @property
    def skin_cm2(self) -> Decimal:
        return sum((wound.skin_cm2 for wound in self.wounds), ZERO)

    @property
    def days(self) -> Decimal:
        return sum((wound.days for wound in self.wounds), ZERO)
