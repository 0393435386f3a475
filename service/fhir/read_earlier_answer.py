"""Earlier answers of this service that were sent back: named, never read as history.

What was planned is not what was done. A Task that is completed without a Procedure leaves a
gap in the record, and that is said.
"""

from __future__ import annotations

from datetime import date

from service.domain.dressing import EventKind
from service.domain.finding import Finding, Severity
from service.fhir.codes import codings_of
from service.fhir.moments import read_choice, read_moment, read_period
from service.fhir.read_context import ReadContext
from service.fhir.read_log import ReadLog
from service.fhir.references import Entry
from service.fhir.select_entries import Selected, is_own_answer

#: Procedure that a completed Task should have left in the record.
PROCEDURE_OF_TASK = {
    EventKind.EXCISE_WOUND: "wound-excision",
    EventKind.HARVEST_SKIN: "skin-harvest",
    EventKind.PLACE_GRAFT: "graft-placement",
    EventKind.PLACE_COVER: "cover-placement",
    EventKind.REMOVE_CARRIER: "carrier-removal",
}


def _task_code(task: Entry, context: ReadContext) -> str | None:
    """Code of a Task of ours."""
    for _, coding in codings_of(task.resource.get("code")):
        for row in context.code_map.rows_of(coding):
            if row.kind == "task":
                return row.name
    return None


def _earliest_day(task: Entry, context: ReadContext) -> date | None:
    """First day on which what the Task asks for may have been done; ``None`` if it does not say."""
    log = ReadLog()  # an unreadable date of an earlier answer is no fault of the record
    restriction = task.resource.get("restriction")
    period = restriction.get("period") if isinstance(restriction, dict) else None
    if period:
        moment = read_period(period, task.expression, context.zone, log)
    elif "authoredOn" in task.resource:
        moment = read_moment(task.resource["authoredOn"], task.expression, context.zone, log)
    else:
        moment = None
    return moment.day if moment else None


def _is_recorded(procedure: str, task: Entry, procedures: tuple[Selected, ...], context: ReadContext) -> bool:
    earliest = _earliest_day(task, context)
    for done in procedures:
        if done.profile.code != procedure:
            continue
        performed = read_choice(
            done.entry.resource, "performed", done.entry.expression, context.zone, ReadLog())
        if performed and (earliest is None or performed.day >= earliest):
            return True
    return False


def read_earlier_answers(
    tolerated: tuple[Entry, ...], procedures: tuple[Selected, ...], canonical_base: str, context: ReadContext
) -> tuple[Finding, ...]:
    """Name what was planned before; a finding for a Task that is completed without its Procedure.

    Parameters
    ----------
    tolerated : tuple of Entry
        CarePlans, Tasks and ServiceRequests of the request.
    procedures : tuple of Selected
        Procedures that count.
    """
    unrecorded = []
    for entry in tolerated:
        is_own = is_own_answer(entry.resource, canonical_base)
        context.log.put_aside("own-answer" if is_own else "resource-not-used", entry.expression, entry.type)
        if not (is_own and entry.type == "Task" and entry.resource.get("status") == "completed"):
            continue
        procedure = PROCEDURE_OF_TASK.get(_task_code(entry, context) or "")
        if procedure and not _is_recorded(procedure, entry, procedures, context):
            unrecorded.append(Finding("completed-task-without-procedure", Severity.MODERATE))
    return tuple(unrecorded[:1])
