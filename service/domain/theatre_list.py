"""The theatre list of one session: what to have ready, in which order, for how long."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.domain.dressing import Quantity


@dataclass(frozen=True)
class ListStep:
    """One step in the order of work. ``text_code`` is worded by ``wording``; minutes are estimates."""

    text_code: str
    values: tuple[tuple[str, str], ...]
    minutes: Decimal | None = None


@dataclass(frozen=True)
class TheatreList:
    """Data of the list: quantities with interval, unit and source; order of work; preparation rules.

    ``carriers`` counts carriers by claimed ratio (``"1:4"``), spares apart in ``spare_carriers``.
    """

    session: int
    quantities: tuple[Quantity, ...]
    carriers: tuple[tuple[str, int], ...]
    spare_carriers: int
    steps: tuple[ListStep, ...]
    preparation: tuple[str, ...]  # text codes of the preparation rules
