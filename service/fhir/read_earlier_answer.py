"""Earlier answers of this service that were sent back: named, never read as history.

What was planned is not what was done. A Task that is completed without a Procedure leaves a
gap in the record, and that is said.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from service.domain.dressing import EventKind
from service.domain.finding import Finding, Severity
from service.fhir.codes import codings_of
from service.fhir.identity import identifier_system
from service.fhir.moments import read_choice, read_moment, read_period
from service.fhir.read_context import ReadContext
from service.fhir.read_log import ReadLog
from service.fhir.read_result import EarlierAnswer
from service.fhir.references import Entry, identifiers_of
from service.fhir.select_entries import Selected, is_own_answer

#: Procedure that a completed Task should have left in the record.
PROCEDURE_OF_TASK = {
    EventKind.EXCISE_WOUND: "wound-excision",
    EventKind.HARVEST_SKIN: "skin-harvest",
    EventKind.PLACE_GRAFT: "graft-placement",
    EventKind.PLACE_COVER: "cover-placement",
    EventKind.REMOVE_CARRIER: "carrier-removal",
}


#: Statuses that the types of an answer may have; any other is no word to repeat.
_STATUSES = frozenset((
    "draft", "requested", "received", "accepted", "rejected", "ready", "cancelled", "in-progress", "on-hold", "failed",
    "completed", "entered-in-error", "active", "revoked", "unknown", "registered", "preliminary", "final", "amended",
    "corrected"))


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
        Resources of the types that an answer holds.
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


def keep_earlier(tolerated: tuple[Entry, ...], canonical_base: str) -> tuple[EarlierAnswer, ...]:
    """Resources that this service named itself and a server has stored, so that an answer can update them."""
    system = identifier_system(canonical_base)
    kept = []
    for entry in tolerated:
        named = [i["value"] for i in identifiers_of(entry.resource) if i.get("system") == system and i.get("value")]
        is_stored = isinstance(entry.resource.get("id"), str)
        if named and is_stored and _is_status(entry.resource.get("status")):
            kept.append(_keep(entry, str(named[0])))
    return tuple(kept)


def _is_status(sent: Any) -> bool:
    return isinstance(sent, str) and sent in _STATUSES


def _keep(entry: Entry, identifier_value: str) -> EarlierAnswer:
    meta = entry.resource.get("meta")
    version = meta.get("versionId") if isinstance(meta, dict) else None
    return EarlierAnswer(
        entry.key, entry.type, identifier_value, entry.resource["status"], entry.resource["id"],
        version if isinstance(version, str) else None, entry.resource, entry.full_url)
