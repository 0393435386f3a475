"""This plan against the one before: what differs, and what is established to have brought it about.

A record entry is the cause of a difference when the plan made without that one entry does not
differ so, and no other single entry does the same. Else no cause is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal

from service.assessment.done_sessions import match_sessions
from service.assessment.record_changes import find_record_changes
from service.domain.case import BurnRecord, GraftingCase
from service.domain.plan import SettledPlan
from service.domain.plan_difference import (
    CourseOutline,
    EarlierCourse,
    Obstacle,
    PlanChange,
    PlanChangeKind,
    PlanDifference,
    RecordChange,
    RecordChangeKind,
)
from service.evidence.library import Evidence
from service.planning.closures import expected_closures, last_closure_day
from service.planning.compare_outlines import compare_outlines
from service.planning.course_outline import outline_course
from service.planning.quantities import PlanningQuantities
from service.preferences.library import Preferences

#: A case, the evidence as it holds for its patient, and its plan.
Planned = tuple[GraftingCase, Evidence, SettledPlan]
#: Records that are planned from to find causes; each takes as long as the plan itself.
_MOST_TRIED = 2
_ABOUT_A_DAY = (PlanChangeKind.MOVED, PlanChangeKind.DROPPED)


def compare_with_earlier(
    earlier: EarlierCourse, planned: Planned, preferences: Preferences, replan: Callable[[BurnRecord], Planned],
) -> PlanDifference:
    """What was recorded since the plan before, and how this one differs from what was left of it.

    Parameters
    ----------
    earlier : EarlierCourse
        The plan before.
    planned : (GraftingCase, Evidence, SettledPlan)
        The case now, the evidence as it holds for the patient, and the plan.
    preferences : Preferences
        Areas that differ by less than the smallest harvest worth a wound count as the same.
    replan : callable
        The same from another record.
    """
    case = planned[0]
    tolerance = preferences.value("smallest-harvest")
    held, pending = match_sessions(earlier, case.record)
    left = replace(earlier.outline, sessions=pending)
    recorded = find_record_changes(earlier, case.record, held, pending, tolerance)
    changes = compare_outlines(left, _outline(planned, preferences), tolerance)
    explained = tuple(replace(change, causes=tuple(_obstacles(case, change))) for change in changes)
    if _reversals(recorded) and not all(change.causes for change in explained):
        explained = _with_causes(explained, _tried(
            left, _reversals(recorded), lambda record: _outline(replan(record), preferences), tolerance))
    return PlanDifference(earlier, tuple(_certain(earlier, recorded, explained)), explained)


def _certain(
    earlier: EarlierCourse, recorded: tuple[RecordChange, ...], changes: tuple[PlanChange, ...],
) -> Iterator[RecordChange]:
    """What is surely new to the plan before: later than its day, done since, or seen to change it."""
    causes = [cause for change in changes for cause in change.causes]
    for entry in recorded:
        is_deed = entry.kind in (RecordChangeKind.HELD_ON_OTHER_DAY, RecordChangeKind.DONE_OTHERWISE)
        if is_deed or entry.day > earlier.made_on or entry in causes:
            yield entry


def _outline(planned: Planned, preferences: Preferences) -> CourseOutline:
    case, evidence, plan = planned
    closures = expected_closures(PlanningQuantities(case, evidence, preferences), plan)
    return outline_course(case, plan, last_closure_day(closures))


def _obstacles(case: GraftingCase, change: PlanChange) -> Iterator[Obstacle]:
    """What makes the day of a session that moves or goes impossible."""
    if change.kind not in _ABOUT_A_DAY:
        return
    day, request = change.earlier_day, case.request
    fit_from = case.record.patient.fit_for_theatre_from
    if case.day_of(day) < 1:
        yield Obstacle.DAY_PASSED
    if request.theatre_days and day not in {theatre.day for theatre in request.theatre_days}:
        yield Obstacle.NO_THEATRE
    if fit_from is not None and day < fit_from:
        yield Obstacle.NOT_FIT


Tried = tuple[RecordChange, CourseOutline, tuple[PlanChange, ...]]


def _reversals(recorded: tuple[RecordChange, ...]) -> list[tuple[RecordChange, BurnRecord]]:
    """Each entry with a record without it."""
    return [(change, record) for change in recorded for record in change.records_without][:_MOST_TRIED]


def _tried(
    left: CourseOutline, records: list[tuple[RecordChange, BurnRecord]],
    replan: Callable[[BurnRecord], CourseOutline], tolerance_cm2: Decimal,
) -> list[Tried]:
    """Each record planned from in the same way, and how that plan differs."""
    outlines = [(change, replan(record)) for change, record in records]
    return [(change, outline, compare_outlines(left, outline, tolerance_cm2)) for change, outline in outlines]


def _with_causes(changes: tuple[PlanChange, ...], tried: list[Tried]) -> tuple[PlanChange, ...]:
    found = []
    for change in changes:
        causes = list(dict.fromkeys(entry for entry, *plan in tried if not _shows(change, *plan)))
        is_single = not change.causes and len(causes) == 1
        found.append(replace(change, causes=(causes[0],)) if is_single else change)
    return tuple(found)


def _shows(change: PlanChange, outline: CourseOutline, differences: tuple[PlanChange, ...]) -> bool:
    """Whether another plan differs from the one before in the same respect."""
    if change.kind is PlanChangeKind.ADDED:
        return change.day in {session.day for session in outline.sessions}
    same = {change.kind, PlanChangeKind.DROPPED} | (set(_ABOUT_A_DAY) if change.kind in _ABOUT_A_DAY else set())
    return any(d.kind in same and d.earlier_day == change.earlier_day for d in differences)
