"""What was really done in a session, as a person at the table notes it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from service.domain.body_region import Place
from service.domain.graft import GraftMethod


class DoneKind(StrEnum):
    """The acts that a record needs to know of."""

    EXCISION = "wound-excision"
    HARVEST = "skin-harvest"
    PLACEMENT = "graft-placement"
    COVER = "cover-placement"


@dataclass(frozen=True)
class DoneAct:
    """One act at one place. ``method`` is given for a graft, ``thickness_mm`` where it was noted for a harvest."""

    kind: DoneKind
    place: Place
    area_cm2: Decimal
    method: GraftMethod | None = None
    thickness_mm: Decimal | None = None


@dataclass(frozen=True)
class DoneSession:
    """A session as done: its day and its acts. Nothing in it is taken over from a plan unseen."""

    day: date
    acts: tuple[DoneAct, ...]
