"""The real parts, built once, and the one path from bytes to answer.

Service and command line differ only in how they receive a request and print its answer.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from service import __version__
from service.domain.answer import PlanAnswer
from service.domain.errors import InvalidCase, OtherPatient, ServiceFault
from service.domain.plan import PlanOutcome
from service.domain.search_news import SearchWatch
from service.ehr_client.client_key import read_client_key
from service.evidence.library import Evidence, load_evidence
from service.fhir.codes import use_code_map
from service.fhir.export_conformance import conformance_resources
from service.fhir.faults import http_status_of, make_fault
from service.fhir.json_text import dump
from service.fhir.order_map import load_order_map
from service.fhir.plan_id import plan_id_of, settings_sha256
from service.fhir.read_case import examine_request, read_request
from service.fhir.read_result import ReadResult
from service.fhir.read_text import write_read_text
from service.fhir.write_capability import write_capability_statement, write_versions
from service.fhir.write_data_required import word_missing, write_data_required_bundle
from service.fhir.write_plan import find_changes_in_progress, write_plan_bundle
from service.fhir.write_read_report import write_read_report
from service.plan_grafting import plan_grafting
from service.preferences.library import Preferences, load_preferences
from service.settings import NO_ORDER_MAP, SHIPPED, Settings
from service.storage.audit_entry import DATA_REQUIRED, NOT_STATED, Asked, AuditEntry, describe_answer, describe_refusal
from service.storage.kept_plan import KeptPlan
from service.wording.plan_text import write_data_required_text, write_plan_text, write_refusal_text
from service.wording.what_if_summary import summarise_what_if

if TYPE_CHECKING:
    from service.storage.storage import Storage

log = logging.getLogger("graftstage")
WITH_TOKENS = (
    "Operations ask for a SMART Backend Services access token and CDS Hooks services for a token of their client, "
    "signed with RS384 or ES384. Which scopes an operation needs stands in its OperationDefinition.")


@dataclass(frozen=True)
class Parts:
    """What a deployment consists of. A command that is run once has no storage.

    ``asked`` is who asks for what, where a call does not say it.
    """

    settings: Settings
    evidence: Evidence
    preferences: Preferences
    storage: Storage | None = None
    own_key_set: dict | None = None  # JWKS of the key that the service signs with, if it has one
    asked: Asked = NOT_STATED


def build_parts(settings: Settings, storage: Storage | None = None) -> Parts:
    """Everything that an answer needs.

    Raises ``ServiceFault`` when the evidence does not fit its lock, a code map or order map of the site has faults or
    the key file cannot be used.
    """
    try:
        if settings.code_map != SHIPPED:
            use_code_map(settings.canonical_base, Path(settings.code_map))
        if settings.order_map != NO_ORDER_MAP:
            load_order_map(settings.order_map)
        own_key_set = read_client_key(settings.record_key_file).public_key_set if settings.record_key_file else None
        return Parts(settings, load_evidence(), load_preferences(), storage, own_key_set)
    except ValueError as error:
        raise ServiceFault(str(error)) from error


@dataclass(frozen=True)
class PlanReply:
    """The answer to a plan request. ``answer`` is ``None`` when the record lacks something required."""

    read: ReadResult
    answer: PlanAnswer | None
    settings: Settings
    seconds: Decimal

    @cached_property
    def plan_id(self) -> str | None:
        """Name of the answer; none for a question about what is missing."""
        return plan_id_of(self.answer, self.settings) if self.answer else None

    @cached_property
    def resource(self) -> dict:
        """The answer Bundle."""
        if self.answer is None:
            return write_data_required_bundle(self.read, self.settings)
        return write_plan_bundle(self.answer, self.read, self.settings)

    @cached_property
    def sha256(self) -> str:
        """Hash of the answer Bundle as it is written: what names this plan on paper."""
        return hashlib.sha256(dump(self.resource)).hexdigest()

    @property
    def text(self) -> str:
        """The answer for a person."""
        if self.read.refusal:
            return write_refusal_text(self.read.refusal)
        if self.answer is None:
            return write_data_required_text(word_missing(missing) for missing in self.read.missing)
        changed = find_changes_in_progress(self.answer, self.read, self.settings.canonical_base)
        told = replace(self.answer, findings=(*changed, *self.answer.findings))
        return f"{write_plan_text(told)}\nPlan id: {self.plan_id}\n"

    @property
    def summary(self) -> dict:
        """The answer in a few numbers; areas in cm², days from the as-of day."""
        if self.answer is None and self.read.refusal:
            return {"outcome": PlanOutcome.NO_PLAN, "finding_codes": [self.read.refusal.code], "seconds": self.seconds}
        if self.answer is None:
            missing = sorted({missing.datum for missing in self.read.missing})
            return {"outcome": DATA_REQUIRED, "missing": missing, "seconds": self.seconds}
        case, plan = self.answer.case, self.answer.plan
        firm = plan.settled.firm_sessions
        beside = {"what_if": summarise_what_if(self.answer)} if self.answer.what_if else {}
        return {
            "plan_id": self.plan_id,
            "outcome": plan.outcome,
            "sessions": len(firm),
            "closure_day": plan.closure_day,
            "harvest_cm2_per_session": [
                sum((h.area_cm2 for h in plan.settled.harvests if h.day == session.day), Decimal(0))
                for session in firm
            ],
            "open_percent_tbsa_at_horizon": round(case.percent_tbsa(plan.settled.open_cm2), 2),
            "gap": plan.gap,
            "seconds": self.seconds,
            "finding_codes": sorted({finding.code for finding in self.answer.findings}),
            **beside,
        }


def answer_plan_request(
    parts: Parts, body: bytes, *, as_of: datetime | None = None, seconds: Decimal | None = None,
    beside: Sequence[tuple[str, dict]] = (),
    now: datetime | None = None, asked: Asked | None = None, only_patient: str | None = None, keeps: bool = True,
    watch: SearchWatch | None = None,
) -> PlanReply:
    """Read, plan and verify; where there is storage, an answer leaves only with its row in the audit trail.

    Parameters
    ----------
    parts : Parts
        The deployment.
    body : bytes
        Bundle or Parameters as sent.
    as_of : datetime, optional
        Moment of the answer, before the one in the request.
    seconds : Decimal, optional
        Search time, before the one in the request. [s]
    beside : sequence of (str, dict)
        Parameters that came beside the body, each with what faults call its place.
    now : datetime, optional
        Moment of the answer when it is stated nowhere; by the clock when ``None``.
    asked : Asked
        Who asks for what.
    only_patient : str, optional
        Id of the one patient that the caller may ask about; any when absent.
    keeps : bool
        Whether the request may be kept for as long as the site says.
    watch : SearchWatch, optional
        Where whoever waits sees how far the plan has come.

    Raises
    ------
    InvalidCase
        The request is unreadable, contradictory or impossible.
    OtherPatient
        It is about another patient.
    ServiceFault
        No plan passed verification, or the answer could not be audited.
    """
    started = perf_counter()
    read = read_request(body, as_of=as_of, now=now, beside=beside, **_site(parts.settings))
    _require_patient(read, only_patient)
    recorder = _Recorder(parts, asked or parts.asked, read, body, started, keeps)
    if read.missing:
        recorder.leave_row(None)
    else:
        request = read.request if seconds is None else replace(read.request, search_seconds=seconds)
        plan_grafting(
            read.record, request, input_sha256=read.input_sha256, evidence=parts.evidence,
            preferences=parts.preferences, audit=recorder.leave_row, read_findings=read.findings,
            earlier=read.earlier_course, watch=watch)
    return recorder.reply


@contextmanager
def refusals_recorded(parts: Parts, asked: Asked, body: bytes) -> Iterator[None]:
    """A request that is refused within the block leaves its row, where there is storage."""
    started = perf_counter()
    try:
        yield
    except (InvalidCase, ServiceFault) as error:
        if parts.storage:
            faults = error.faults if isinstance(error, InvalidCase) else (make_fault("plan-withheld", ""),)
            parts.storage.trail.append(describe_refusal(
                asked, http_status_of(faults), sorted({fault.error_id for fault in faults}), body,
                software=__version__, duration_milliseconds=_milliseconds_since(started)))
        raise


@dataclass
class _Recorder:
    """The audit port of one request: what is answered is recorded first, as it will leave."""

    parts: Parts
    asked: Asked
    read: ReadResult
    body: bytes
    started: float
    keeps: bool
    reply: PlanReply | None = None

    def leave_row(self, answer: PlanAnswer | None) -> None:
        """Add the row of an answer, and keep the request for as long as the site says."""
        settings, storage = self.parts.settings, self.parts.storage
        self.reply = PlanReply(self.read, answer, settings, _seconds_since(self.started))
        if storage is None:
            return
        if answer and self.keeps and settings.keep_plan_hours:
            storage.kept_plans.keep(self._kept(), now=datetime.now(UTC))
        storage.trail.append(self._entry(answer))

    def _entry(self, answer: PlanAnswer | None) -> AuditEntry:
        made = describe_answer(answer) if answer else {"outcome": DATA_REQUIRED, "software": __version__}
        return AuditEntry(**made | {
            **asdict(self.asked),
            "plan_id": self.reply.plan_id,
            "input_sha256": self.read.input_sha256,
            "answer_sha256": self.reply.sha256,
            "settings_sha256": settings_sha256(self.parts.settings),
            "duration_milliseconds": _milliseconds_since(self.started),
        })

    def _kept(self) -> KeptPlan:
        request = self.reply.answer.case.request
        return KeptPlan(
            self.reply.plan_id, self.body, request.as_of.isoformat(), str(request.search_seconds),
            expires_at=datetime.now(UTC) + timedelta(hours=self.parts.settings.keep_plan_hours))


@dataclass(frozen=True)
class ReadReply:
    """The answer to a dry run."""

    read: ReadResult
    settings: Settings

    @property
    def resource(self) -> dict:
        """The report as Parameters."""
        return write_read_report(self.read, self.settings)

    @property
    def text(self) -> str:
        """The report for a person."""
        return write_read_text(self.read)


def answer_read_request(
    parts: Parts, body: bytes, *, as_of: datetime | None = None, asked: Asked | None = None,
    only_patient: str | None = None,
) -> ReadReply:
    """Dry run: what was understood, set aside, missing or wrong.

    Raises ``InvalidCase`` only when the body is no readable Bundle, ``OtherPatient``, and ``ServiceFault`` when the
    answer could not be audited.
    """
    started = perf_counter()
    read = examine_request(body, as_of=as_of, **_site(parts.settings))
    _require_patient(read, only_patient)
    if parts.storage:
        parts.storage.trail.append(AuditEntry(
            **asdict(asked or parts.asked), outcome="read", software=__version__, input_sha256=read.input_sha256,
            settings_sha256=settings_sha256(parts.settings), duration_milliseconds=_milliseconds_since(started)))
    return ReadReply(read, parts.settings)


def examine_before_plan(parts: Parts, body: bytes) -> ReadResult:
    """A request that is changed and then planned, as far as it can be read; its plan leaves the row.

    Raises ``InvalidCase`` when the body is no readable Bundle.
    """
    return examine_request(body, **_site(parts.settings))


def state_capabilities(parts: Parts, resource_types: Iterable[str]) -> dict:
    """The CapabilityStatement of this deployment."""
    settings = parts.settings
    return write_capability_statement(
        settings.canonical_base, __version__, read_types=resource_types, is_smart=settings.are_tokens_asked_for,
        security=WITH_TOKENS if settings.are_tokens_asked_for else f"{settings.without_tokens}.")


def state_versions() -> dict:
    return write_versions()


def write_conformance_resources(settings: Settings) -> list[dict]:
    """Every conformance resource of this deployment."""
    return conformance_resources(settings.canonical_base)


def _require_patient(read: ReadResult, only_patient: str | None) -> None:
    """Raises ``OtherPatient`` unless the one patient of the record, if it has one, is the one allowed."""
    ids = {source.id for source in read.sources.values() if source.resource_type == "Patient"}
    if only_patient is not None and ids - {only_patient}:
        raise OtherPatient


def _site(settings: Settings) -> dict[str, str]:
    return {"site_time_zone": settings.time_zone, "canonical_base": settings.canonical_base}


def _seconds_since(started: float) -> Decimal:
    return Decimal(f"{perf_counter() - started:.3f}")


def _milliseconds_since(started: float) -> int:
    return round(1000 * (perf_counter() - started))
