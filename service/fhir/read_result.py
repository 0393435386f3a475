"""What reading a request gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from service.domain.case import BurnRecord, PlanRequest
from service.domain.errors import Fault
from service.domain.finding import Finding
from service.domain.out_of_scope import OutOfScope
from service.domain.plan_difference import EarlierCourse


@dataclass(frozen=True)
class SourceRef:
    """Where a record key points to in the request: enough to refer to the caller's resource.

    ``identifier`` is the first business identifier (system and value) of the resource;
    ``display`` names what it is, never whom it is about.
    """

    resource_type: str
    full_url: str | None
    id: str | None
    identifier: dict[str, str] | None
    display: str


@dataclass(frozen=True)
class EarlierAnswer:
    """A resource of an earlier answer of this service, sent back: what to update, never history.

    ``identifier_value`` is the name that the service gave it; ``id`` and ``version_id`` are
    those of the caller's server.
    """

    key: str
    resource_type: str
    identifier_value: str
    status: str
    id: str
    version_id: str | None
    resource: dict[str, Any]
    full_url: str | None = None  # its address on that server, when it came with one


@dataclass(frozen=True)
class SetAside:
    """A resource that does not count. ``reason`` is an id of the fault catalogue."""

    expression: str
    reason: str
    resource_type: str


@dataclass(frozen=True)
class Missing:
    """A datum that planning needs and the record does not hold; a row of the absence table.

    ``expression`` is the place where it belongs when the resource is there without it.
    """

    datum: str
    expression: str = ""


@dataclass(frozen=True)
class ReadResult:
    """A request as read.

    ``record`` is ``None`` while something is missing or wrong; ``request`` is ``None`` only
    when the parameters are wrong. ``sources`` maps record keys (``entry[3]``) to the
    caller's resources. ``notes`` are faults of status 200: said beside the answer.
    """

    record: BurnRecord | None
    request: PlanRequest | None
    sources: dict[str, SourceRef]
    set_aside: tuple[SetAside, ...]
    missing: tuple[Missing, ...]
    notes: tuple[Fault, ...]
    faults: tuple[Fault, ...]
    findings: tuple[Finding, ...]
    understood: tuple[tuple[str, str], ...]  # record key, profile code: what counted
    input_sha256: str
    earlier: tuple[EarlierAnswer, ...] = ()
    earlier_course: EarlierCourse | None = None  # what of it this plan is compared with

    @property
    def refusal(self) -> Finding | None:
        """What puts the request out of scope, whatever else it holds."""
        return next((finding for finding in self.findings if finding.code in set(OutOfScope)), None)
