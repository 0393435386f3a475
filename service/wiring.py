"""The real parts, built once, and the one path from bytes to answer.

Service and command line differ only in how they receive a request and print its answer.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from service import __version__
from service.domain.answer import PlanAnswer
from service.domain.errors import ServiceFault
from service.domain.plan import PlanOutcome
from service.evidence.library import Evidence, load_evidence
from service.fhir.codes import use_code_map
from service.fhir.export_conformance import conformance_resources
from service.fhir.json_text import dump
from service.fhir.read_case import examine_request, read_request
from service.fhir.read_result import ReadResult
from service.fhir.read_text import write_read_text
from service.fhir.write_capability import write_capability_statement, write_versions
from service.fhir.write_data_required import word_missing, write_data_required_bundle
from service.fhir.write_plan import write_plan_bundle
from service.fhir.write_read_report import write_read_report
from service.plan_grafting import plan_grafting
from service.preferences.library import Preferences, load_preferences
from service.settings import SHIPPED, Settings
from service.wording.plan_text import write_data_required_text, write_plan_text, write_refusal_text
from service.wording.what_if_summary import summarise_what_if

if TYPE_CHECKING:
    from service.storage.storage import Storage

log = logging.getLogger("graftstage")
SECURITY = "Callers are not checked: run it where only admitted systems reach it."


@dataclass(frozen=True)
class Parts:
    """What a deployment consists of. A command that is run once has no storage."""

    settings: Settings
    evidence: Evidence
    preferences: Preferences
    storage: Storage | None = None


def build_parts(settings: Settings, storage: Storage | None = None) -> Parts:
    """Everything that an answer needs.

    Raises ``ServiceFault`` when the evidence does not fit its lock or the code map of the site has faults.
    """
    try:
        if settings.code_map != SHIPPED:
            use_code_map(settings.canonical_base, Path(settings.code_map))
        return Parts(settings, load_evidence(), load_preferences(), storage)
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
        return write_plan_text(self.answer)

    @property
    def summary(self) -> dict:
        """The answer in a few numbers; areas in cm², days from the as-of day."""
        if self.answer is None and self.read.refusal:
            return {"outcome": PlanOutcome.NO_PLAN, "finding_codes": [self.read.refusal.code], "seconds": self.seconds}
        if self.answer is None:
            missing = sorted({missing.datum for missing in self.read.missing})
            return {"outcome": "data_required", "missing": missing, "seconds": self.seconds}
        case, plan = self.answer.case, self.answer.plan
        firm = plan.settled.firm_sessions
        beside = {"what_if": summarise_what_if(self.answer)} if self.answer.what_if else {}
        return {
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
) -> PlanReply:
    """Read, plan and verify.

    Parameters
    ----------
    parts : Parts
        The deployment.
    body : bytes
        Bundle or Parameters as sent.
    as_of : datetime, optional
        Moment of the answer, before the one in the request; now when both are absent.
    seconds : Decimal, optional
        Search time, before the one in the request. [s]
    beside : sequence of (str, dict)
        Parameters that came beside the body, each with what faults call its place.

    Raises
    ------
    InvalidCase
        The request is unreadable, contradictory or impossible.
    ServiceFault
        No plan passed verification.
    """
    started = perf_counter()
    read = read_request(body, as_of=as_of, beside=beside, **_site(parts.settings))
    answer = None
    if not read.missing:
        request = read.request if seconds is None else replace(read.request, search_seconds=seconds)
        answer = plan_grafting(
            read.record, request, input_sha256=read.input_sha256, evidence=parts.evidence,
            preferences=parts.preferences, audit=_audit, read_findings=read.findings)
    return PlanReply(read, answer, parts.settings, _seconds_since(started))


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


def answer_read_request(parts: Parts, body: bytes, *, as_of: datetime | None = None) -> ReadReply:
    """Dry run: what was understood, set aside, missing or wrong.

    Raises ``InvalidCase`` only when the body is no readable Bundle.
    """
    read = examine_request(body, as_of=as_of, **_site(parts.settings))
    return ReadReply(read, parts.settings)


def state_capabilities(parts: Parts, resource_types: Iterable[str]) -> dict:
    """The CapabilityStatement of this deployment."""
    base = parts.settings.canonical_base
    return write_capability_statement(base, __version__, read_types=resource_types, security=SECURITY)


def state_versions() -> dict:
    return write_versions()


def write_conformance_resources(settings: Settings) -> list[dict]:
    """Every conformance resource of this deployment."""
    return conformance_resources(settings.canonical_base)


def _site(settings: Settings) -> dict[str, str]:
    return {"site_time_zone": settings.time_zone, "canonical_base": settings.canonical_base}


def _seconds_since(started: float) -> Decimal:
    return Decimal(f"{perf_counter() - started:.3f}")


def _audit(answer: PlanAnswer) -> None:
    """One line a plan: hashes, versions, outcome; nothing of the patient."""
    versions, outcome = answer.versions, answer.plan.outcome
    log.info("planned %s with %s evidence %s input %s", outcome, versions.software, versions.evidence,
             versions.input_sha256)
