"""What of a plan is due now, most decisive first, known again when the plan is made anew.

An undone event moves with the day on which the plan is made. It is known again by its kind and
by the last thing that the record says was done at its place, never by its date.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import IntEnum, auto

from service.domain.answer import PlanAnswer
from service.domain.burn_wound import ZERO
from service.domain.case import BurnRecord
from service.domain.dressing import CareEvent, EventKind
from service.domain.finding import Finding, Severity
from service.domain.session import Session
from service.domain.situation import DueItem, Situation
from service.schedule.rounds import WARD_ROUND
from service.wording.places import place_in_words

#: A session is announced on the day before it, when it is prepared.
_SESSION_AHEAD_DAYS = 1
#: Acts of a session in the order in which one of them stands for it.
_ACTS = (EventKind.HARVEST_SKIN, EventKind.PLACE_GRAFT, EventKind.EXCISE_WOUND, EventKind.PLACE_COVER)
#: What decides the next step comes before what only has to be done; any other kind follows.
_DECISIVE = (
    EventKind.INSPECT_BED,
    EventKind.REVIEW_PLAN,
    EventKind.INSPECT_GRAFT,
    EventKind.CHECK_DONOR_HEALING,
    EventKind.CHECK_TEMPLATE,
    EventKind.CONFIRM_PRECONDITION,
    EventKind.ORDER_COVER,
    EventKind.RENEW_COVER,
    EventKind.REMOVE_CARRIER,
    EventKind.APPLY_RELEASE_AGENT,
    EventKind.PREPARE_DONOR_SITE,
)
_OF_DONOR_SITES = (EventKind.CHANGE_DONOR_DRESSING, EventKind.CHECK_DONOR_HEALING, EventKind.PREPARE_DONOR_SITE)


@dataclass(frozen=True)
class _Deeds:
    """What the record says was last done: by place in words the day and the area, and session days."""

    placed: dict[str, tuple[date, Decimal]]
    harvested: dict[str, tuple[date, Decimal]]
    session_days: frozenset[date]

    def at(self, kind: EventKind) -> dict[str, tuple[date, Decimal]]:
        return self.harvested if kind in _OF_DONOR_SITES else self.placed


def _last_deeds(records) -> dict[str, tuple[date, Decimal]]:
    found: dict[str, tuple[date, Decimal]] = {}
    for record in records:
        place = place_in_words(record.place.key)
        day, area = found.get(place, (date.min, ZERO))
        if record.day > day:
            found[place] = (record.day, record.area_cm2)
        elif record.day == day:
            found[place] = (day, area + record.area_cm2)
    return found


def _deeds_of(record: BurnRecord) -> _Deeds:
    acts = (*record.excisions, *record.harvests, *record.placements, *record.covers)
    return _Deeds(
        _last_deeds(record.placements), _last_deeds(record.harvests), frozenset(act.day for act in acts))


def find_situation(answer: PlanAnswer, is_closed: Callable[[CareEvent], bool]) -> Situation:
    """Everything that is due by the end of the as-of day, the session of the next day, and what is grave.

    Parameters
    ----------
    answer : PlanAnswer
        A plan as of now.
    is_closed : callable
        Whether the record already says that an event is done or not wanted.
    """
    deeds = _deeds_of(answer.case.record)
    sessions = [s for s in answer.plan.settled.firm_sessions if s.day <= _SESSION_AHEAD_DAYS]
    items = [
        *(item for session in sessions if (item := _session_item(answer, session, deeds, is_closed))),
        *(_event_item(event, deeds) for event in answer.events if _is_due(answer, event) and not is_closed(event)),
        *_grave_items(answer.findings),
    ]
    return Situation(tuple(sorted(items, key=_rank)))


def _grave_items(findings: tuple[Finding, ...]) -> Iterator[DueItem]:
    """One for each kind of grave finding, known by its places."""
    by_code: dict[str, list[Finding]] = defaultdict(list)
    for finding in findings:
        if finding.severity is Severity.HIGH:
            by_code[finding.code].append(finding)
    for code, same in by_code.items():
        yield DueItem(frozenset(f"finding {code} {finding.place}" for finding in same), finding=same[0])


class _Turn(IntEnum):
    """Which kind of thing is told first."""

    URGENT = auto()
    SESSION = auto()
    DUE = auto()
    GRAVE = auto()


def _rank(item: DueItem) -> tuple:
    """Urgent events, then a session, then what decides, then the rest, then what is only grave."""
    if item.event is None:
        return _Turn.GRAVE, 0, []
    if item.session is not None:
        return _Turn.SESSION, item.session.day, []
    decisive = _DECISIVE.index(item.event.kind) if item.event.kind in _DECISIVE else len(_DECISIVE)
    return _Turn.URGENT if item.is_urgent else _Turn.DUE, decisive, sorted(item.names)


def _is_due(answer: PlanAnswer, event: CareEvent) -> bool:
    contingent = {s.ordinal for s in answer.plan.settled.sessions if s.is_contingent}
    return event.day <= 0 and event.kind not in _ACTS and event.session not in contingent


def _session_item(answer: PlanAnswer, session: Session, deeds: _Deeds,
                  is_closed: Callable[[CareEvent], bool]) -> DueItem | None:
    """The session as one thing, whose most telling act stands for it; the n-th session stays the n-th."""
    acts = [e for kind in _ACTS for e in answer.events if e.kind is kind and e.session == session.ordinal]
    acts = [event for event in acts if not is_closed(event)]
    if not acts:
        return None
    number = len(deeds.session_days) + session.ordinal
    harvested = sum((h.area_cm2 for h in answer.plan.settled.harvests if h.day == session.day), ZERO)
    return DueItem(frozenset({f"session {number}"}), event=acts[0], session=session, amount_cm2=harvested)


def _event_item(event: CareEvent, deeds: _Deeds) -> DueItem:
    """An event is known by its places; what has no place by its subject and the sessions so far."""
    done = deeds.at(event.kind)
    places = [place for place in event.place.split("; ") if place]
    urgency = "" if event.priority == "routine" else f" {event.priority}"
    subjects = places or [f"{event.subject_key} {len(deeds.session_days) + (event.session or 0)}"]
    treated = [done[place][1] for place in places if place in done]
    return DueItem(
        frozenset(f"{event.kind} {subject}{_since(done, subject)}{urgency}" for subject in subjects),
        event=event, round_name=_routine_round(event),
        treated_cm2=sum(treated) if treated and len(treated) == len(places) else None)


def _routine_round(event: CareEvent) -> str | None:
    """The name of a round of the ward on its day, unless it is urgent."""
    is_routine_round = event.priority == "routine" and event.subject_key.startswith(WARD_ROUND)
    return f"round {event.kind} {event.subject_key}" if is_routine_round else None


def _since(done: dict[str, tuple[date, Decimal]], place: str) -> str:
    return f" since {done[place][0]}" if place in done else ""
