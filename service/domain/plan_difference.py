"""The plan before, as the caller kept it, and what has changed since: in the record and in the plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum

from service.domain.case import Act, BurnRecord


@dataclass(frozen=True)
class SessionOutline:
    """What two plans are compared by: the day of a firm session and its areas. [cm²]

    ``areas_cm2`` is by act and place key; empty where only the whole of the skin is known.
    """

    day: date
    harvested_cm2: Decimal | None = None
    areas_cm2: tuple[tuple[Act, str, Decimal], ...] = ()

    def by_place(self, act: Act) -> dict[str, Decimal]:
        """Area of an act at each place. [cm²]"""
        return {place: area for kind, place, area in self.areas_cm2 if kind is act}

    def total_cm2(self, act: Act) -> Decimal | None:
        """Area of an act in the whole session; ``None`` where it is not known. [cm²]"""
        if act is Act.HARVEST and self.harvested_cm2 is not None:
            return self.harvested_cm2
        return sum(self.by_place(act).values(), Decimal(0)) if self.areas_cm2 else None


@dataclass(frozen=True)
class CourseOutline:
    """Firm sessions in order. ``ends``: last expected closure, else the end of what is planned."""

    sessions: tuple[SessionOutline, ...]
    ends: date | None = None


@dataclass(frozen=True)
class EarlierCourse:
    """The plan before. ``asked_for``: its wishes as it worded them; ``None`` when its CarePlan was not sent."""

    made_on: date
    outline: CourseOutline
    asked_for: str | None = None


class RecordChangeKind(StrEnum):
    DONOR_STATE = "donor-state"
    TAKE = "take"
    BED = "bed"
    EXTENT = "extent"
    OPEN_WOUND = "open-wound"
    MEASURED = "measured"
    HELD_ON_OTHER_DAY = "held-on-other-day"
    DONE_OTHERWISE = "done-otherwise"


@dataclass(frozen=True)
class RecordChange:
    """Something recorded since the plan before, or done otherwise than it said.

    ``values`` fill its sentence. ``records_without``: the record as it was before, or as the plan
    before expected it; none where nobody can say.
    """

    kind: RecordChangeKind
    day: date
    place: str = ""
    values: tuple[tuple[str, str], ...] = ()
    records_without: tuple[BurnRecord, ...] = field(default=(), compare=False, repr=False)


class PlanChangeKind(StrEnum):
    MOVED = "moved"
    DROPPED = "dropped"
    ADDED = "added"
    HARVESTED = "harvested"
    EXCISED = "excised"
    GRAFTED = "grafted"
    ENDS = "ends"


class Obstacle(StrEnum):
    """Why no session can be held on a day."""

    DAY_PASSED = "day-passed"
    NO_THEATRE = "no-theatre"
    NOT_FIT = "not-fit"


@dataclass(frozen=True)
class PlanChange:
    """One way in which the plan differs from the one before.

    ``earlier_day`` and ``day`` are those of the session in the plan before and in this one;
    ``places`` names each place with another area: before, now. Areas in cm², ``None`` where not
    known. ``causes``: only what is established to have brought it about.
    """

    kind: PlanChangeKind
    earlier_day: date | None = None
    day: date | None = None
    earlier_cm2: Decimal | None = None
    area_cm2: Decimal | None = None
    places: tuple[tuple[str, Decimal, Decimal], ...] = ()
    causes: tuple[RecordChange | Obstacle, ...] = ()


@dataclass(frozen=True)
class PlanDifference:
    """What was recorded since the plan before, and how this plan differs from it."""

    earlier: EarlierCourse
    recorded: tuple[RecordChange, ...]
    changes: tuple[PlanChange, ...]
