"""A request in, the burn record out: the whole reading in the order it happens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from hashlib import sha256
from zoneinfo import ZoneInfo

from service.domain.case import BurnRecord, PlanRequest
from service.domain.errors import InvalidCase
from service.domain.finding import Finding
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.codes import load_code_map
from service.fhir.faults import sorted_faults
from service.fhir.json_text import dump
from service.fhir.latest import pick_latest
from service.fhir.read_bundle import ReadBody, RecordBundle, read_body, read_bundle
from service.fhir.read_context import ReadContext
from service.fhir.read_deeds import keep_counted_parts
from service.fhir.read_earlier_answer import keep_earlier, read_earlier_answers
from service.fhir.read_earlier_course import read_earlier_course
from service.fhir.read_log import ReadLog
from service.fhir.read_out_of_scope import find_out_of_scope
from service.fhir.read_parameters import read_parameters
from service.fhir.read_patient import Person, check_subject, find_patient, read_person
from service.fhir.read_record import Selection, read_record
from service.fhir.read_result import EarlierAnswer, ReadResult, SourceRef
from service.fhir.read_statements import read_statement
from service.fhir.references import Entry, identifiers_of
from service.fhir.scan_elements import ElementScan
from service.fhir.select_entries import Selected, select_entries


def _select(bundle: RecordBundle, patient: Entry | None, canonical_base: str, context: ReadContext) -> Selection:
    selected = select_entries(bundle.readable, bundle.modifiers, context, canonical_base)
    if patient:
        for one in selected:
            check_subject(one, patient, context)

    def of_type(name: str) -> tuple[Selected, ...]:
        return tuple(one for one in selected if one.entry.type == name)

    read = [read_statement(one, context) for one in of_type("Observation")]
    statements = pick_latest([statement for statement in read if statement], context)
    return Selection(
        statements=keep_counted_parts(statements, of_type("Procedure"), context),
        procedures=of_type("Procedure"),
        conditions=of_type("Condition"),
        allergies=of_type("AllergyIntolerance"),
    )


def _source_of(entry: Entry, display: str) -> SourceRef:
    named = [
        {"system": str(i["system"]), "value": str(i["value"])}
        for i in identifiers_of(entry.resource) if i.get("system") and i.get("value")
    ]
    return SourceRef(entry.type, entry.full_url, entry.resource.get("id"), named[0] if named else None, display)


def _sources_of(person: Person | None, selection: Selection) -> dict[str, SourceRef]:
    sources = {person.entry.key: _source_of(person.entry, "Patient")} if person else {}
    for statement in selection.statements:
        sources[statement.key] = _source_of(statement.entry, statement.profile.title)
    for one in (*selection.procedures, *selection.conditions, *selection.allergies):
        sources[one.entry.key] = _source_of(one.entry, one.profile.title)
    return sources


def _understood(selection: Selection) -> tuple[tuple[str, str], ...]:
    statements = [(statement.key, statement.profile.code) for statement in selection.statements]
    others = (*selection.procedures, *selection.conditions, *selection.allergies)
    return tuple(statements + [(one.entry.key, one.profile.code) for one in others])


def examine_request(
    body: bytes, *, as_of: datetime | None = None, now: datetime | None = None,
    site_time_zone: str = "Etc/UTC", canonical_base: str = DEFAULT_CANONICAL_BASE,
    beside: Sequence[tuple[str, dict]] = (),
) -> ReadResult:
    """Read a request as far as it goes and say everything that was found: the dry run.

    Parameters
    ----------
    body : bytes
        A Bundle or a Parameters resource as JSON.
    as_of : datetime or None
        Moment of the answer, before the one in the request.
    now : datetime or None
        Moment of the answer when both are absent; what the clock says when ``None``.
    site_time_zone : str
        IANA name, when the request does not state one.
    canonical_base : str
        Base of the local code system.
    beside : sequence of (str, dict)
        Parameters that came beside the body, each with what faults call its place.

    Raises
    ------
    InvalidCase
        Only when there is no readable Bundle.
    """
    log = ReadLog()
    code_map = load_code_map(canonical_base)
    sent = read_body(body)
    sent.parameters.extend(beside)
    for expression, parameter in sent.parameters:
        ElementScan(expression, log).walk(parameter)
    request = read_parameters(
        sent.parameters, as_of=as_of, now=now or datetime.now(UTC), site_time_zone=site_time_zone,
        code_map=code_map, log=log)
    if as_of is None and all(parameter.get("name") != "as-of" for _, parameter in sent.parameters):
        log.note("as-of-from-clock", "")
    bundle = read_bundle(sent, log)
    context = ReadContext(log, code_map, bundle.references, request.as_of, ZoneInfo(request.time_zone))
    patient = find_patient(bundle.readable, context)
    person = read_person(patient, context) if patient else None
    selection = _select(bundle, patient, canonical_base, context)
    record = read_record(person, selection, context)
    findings = (
        *find_out_of_scope(selection.conditions, selection.statements, sent.parameters),
        *read_earlier_answers(bundle.tolerated, selection.procedures, canonical_base, context))
    result = _make_result(request, record, log, selection, person, findings, _hash_of(sent, beside))
    return _with_earlier(result, keep_earlier(bundle.tolerated, canonical_base), bundle.tolerated, context)


def _hash_of(sent: ReadBody, beside: Sequence[tuple[str, dict]]) -> str:
    """Hash of the bytes that were sent; what was given beside them is another request and has another hash."""
    if not beside:
        return sent.sha256
    return sha256(sent.sha256.encode() + b"".join(dump(parameter) for _, parameter in beside)).hexdigest()


def _make_result(
    request: PlanRequest, record: BurnRecord | None, log: ReadLog, selection: Selection,
    person: Person | None, findings: tuple[Finding, ...], sha256: str,
) -> ReadResult:
    return ReadResult(
        record=None if log.missing or log.faults else record,
        request=request,
        sources=_sources_of(person, selection),
        set_aside=tuple(log.set_aside),
        missing=tuple(dict.fromkeys(log.missing)),
        notes=sorted_faults(log.notes),
        faults=sorted_faults(log.faults),
        findings=findings,
        understood=_understood(selection),
        input_sha256=sha256,
    )


def _with_earlier(
    result: ReadResult, earlier: tuple[EarlierAnswer, ...], tolerated: tuple[Entry, ...], context: ReadContext,
) -> ReadResult:
    """The same with the resources of the plan before, which the answer may refer to."""
    kept = {one.key for one in earlier}
    named = {entry.key: _source_of(entry, entry.type) for entry in tolerated if entry.key in kept}
    course = read_earlier_course(earlier, result.record.patient.key, context) if result.record else None
    return replace(result, earlier=earlier, earlier_course=course, sources=result.sources | named)


def read_request(
    body: bytes, *, as_of: datetime | None = None, now: datetime | None = None,
    site_time_zone: str = "Etc/UTC", canonical_base: str = DEFAULT_CANONICAL_BASE,
    beside: Sequence[tuple[str, dict]] = (),
) -> ReadResult:
    """Read a request to plan from; parameters as ``examine_request``.

    ``record`` of the result is ``None`` exactly when something is missing.

    Raises
    ------
    InvalidCase
        With every fault found, when anything is contradictory, unreadable or impossible.
    """
    result = examine_request(
        body, as_of=as_of, now=now, site_time_zone=site_time_zone, canonical_base=canonical_base, beside=beside)
    if result.faults:
        raise InvalidCase(result.faults)
    return result
