"""Dated events on the ward and in theatre that follow from a plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from service.domain.body_region import Place
from service.domain.graft import GraftMethod, Thickness


class EventKind(StrEnum):
    """What is to be done; also the code of the Task."""

    PREPARE_DONOR_SITE = "prepare-donor-site"
    EXCISE_WOUND = "excise-wound"
    HARVEST_SKIN = "harvest-skin"
    PLACE_GRAFT = "place-graft"
    PLACE_COVER = "place-cover"
    CHANGE_OUTER_DRESSING = "change-outer-dressing"
    INSPECT_GRAFT = "inspect-graft"
    APPLY_RELEASE_AGENT = "apply-release-agent"
    REMOVE_CARRIER = "remove-carrier"
    REMOVE_STAPLES = "remove-staples"
    CHANGE_DONOR_DRESSING = "change-donor-dressing"
    CHECK_DONOR_HEALING = "check-donor-healing"
    ORDER_COVER = "order-cover"
    CONFIRM_PRECONDITION = "confirm-precondition"
    REVIEW_PLAN = "review-plan"
    REMOVE_NEGATIVE_PRESSURE = "remove-negative-pressure"
    APPLY_SPLINT = "apply-splint"
    REMOVE_SPLINT = "remove-splint"
    MOBILISE_PATIENT = "mobilise-patient"
    START_COMPRESSION = "start-compression"
    START_MOISTURISER = "start-moisturiser"
    START_PRESSURE_GARMENT = "start-pressure-garment"
    CHECK_COVER = "check-cover"
    RENEW_COVER = "renew-cover"
    CHECK_TEMPLATE = "check-template"
    INSPECT_BED = "inspect-bed"


#: Events that open a dressing or uncover a wound: what merging makes rarer.
DISTURBING = frozenset({
    EventKind.CHANGE_OUTER_DRESSING,
    EventKind.INSPECT_GRAFT,
    EventKind.APPLY_RELEASE_AGENT,
    EventKind.REMOVE_CARRIER,
    EventKind.REMOVE_STAPLES,
    EventKind.REMOVE_NEGATIVE_PRESSURE,
    EventKind.REMOVE_SPLINT,
    EventKind.CHANGE_DONOR_DRESSING,
    EventKind.CHECK_DONOR_HEALING,
    EventKind.CHECK_COVER,
    EventKind.RENEW_COVER,
    EventKind.CHECK_TEMPLATE,
    EventKind.INSPECT_BED,
})


@dataclass(frozen=True)
class Quantity:
    """A computed number with its unit, its interval and where it comes from.

    ``low`` and ``high`` are ``None`` only for counts and dates that have no spread.
    """

    name: str  # code of the quantity: harvest-area, plates, carriers, blood-loss ...
    value: Decimal
    low: Decimal | None
    high: Decimal | None
    unit: str  # UCUM
    sources: tuple[str, ...]  # evidence row ids


def sum_quantities(name: str, parts: Iterable[Quantity]) -> Quantity:
    """One total of several quantities of the same unit; their spreads are added, the cautious way."""
    parts = list(parts)
    has_spread = any(p.low is not None for p in parts)
    return Quantity(
        name,
        sum(p.value for p in parts),
        sum(p.value if p.low is None else p.low for p in parts) if has_spread else None,
        sum(p.value if p.high is None else p.high for p in parts) if has_spread else None,
        parts[0].unit,
        tuple(sorted({source for p in parts for source in p.sources})),
    )


@dataclass(frozen=True)
class ActPart:
    """What an act does at one place, with the numbers of that place alone.

    ``method`` is set for a graft; ``thickness`` and ``harvest_number`` for a harvest, the
    thickness for a graft too.
    """

    place: Place
    quantities: tuple[Quantity, ...]
    method: GraftMethod | None = None
    thickness: Thickness | None = None
    harvest_number: int | None = None


@dataclass(frozen=True)
class CareEvent:
    """One dated event: a Task of its own, with the window in which it may happen.

    ``subject_key`` names the graft, donor parcel, region or ward round it belongs to and
    ``ordinal`` counts events of one kind on it, so that the event keeps its identity when
    the plan changes. Days count from the as-of day. An event with a ``series`` belongs to the
    ward; with a ``session`` besides, it is done in theatre on the day of that session.
    """

    kind: EventKind
    subject_key: str
    ordinal: int
    day: int
    earliest_day: int
    latest_day: int
    session: int | None  # ordinal of the theatre session it happens in or belongs to
    place: str  # in words
    priority: str = "routine"  # FHIR request priority
    quantities: tuple[Quantity, ...] = ()  # totals over all places of the event
    parts: tuple[ActPart, ...] = ()  # an act in theatre, place by place; they add up to the totals
    preconditions: tuple[str, ...] = ()  # finding or question codes, worded by ``wording``
    values: tuple[tuple[str, str], ...] = ()  # fill the description text
    series: str = ""  # events of one series share a ServiceRequest
    sources: tuple[str, ...] = ()  # evidence row ids that the window rests on

    @property
    def is_done_in_theatre(self) -> bool:
        """Whether a ward event was moved into a session, when the patient is asleep anyway."""
        return bool(self.series) and self.session is not None


@dataclass(frozen=True)
class CareSchedule:
    """All events of a plan, and how often they disturb the patient.

    A disturbance is a day on which a dressing is opened outside theatre.
    ``disturbances_unmerged_count``: the same with every event on its usual day, none of them
    in theatre.
    """

    events: tuple[CareEvent, ...] = ()
    disturbances_count: int = 0
    disturbances_unmerged_count: int = 0

    @property
    def disturbances_saved_count(self) -> int:
        return self.disturbances_unmerged_count - self.disturbances_count
