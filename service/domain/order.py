"""Orders that are about to be signed, as far as they ask for skin."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from service.domain.body_region import Place
from service.domain.case import Act
from service.domain.graft import GraftMethod


@dataclass(frozen=True)
class DraftOrder:
    """An order of a harvest or of a graft. What it does not state is ``None``, never a default.

    ``day`` counts from the as-of day; ``places`` are those that its body site may mean.
    """

    act: Act
    places: tuple[Place, ...]
    day: int
    area_cm2: Decimal | None = None
    method: GraftMethod | None = None


class OrderFault(StrEnum):
    """What stands against an order."""

    NO_SKIN_THERE = "order-no-skin-there"
    BEFORE_HEALING = "order-before-healing"
    SHORT_OF_SKIN = "order-short-of-skin"


@dataclass(frozen=True)
class OrderProblem:
    """An order that cannot be carried out as it stands. ``healed_day`` is when all of the site has healed."""

    fault: OrderFault
    order: DraftOrder
    needed_cm2: Decimal | None
    usable_cm2: Decimal
    healed_day: int | None = None
