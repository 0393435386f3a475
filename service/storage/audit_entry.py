"""What a row of the audit trail says: who asked for what, made with what, with which outcome. Nothing clinical."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from hashlib import sha256

from service.domain.answer import PlanAnswer
from service.domain.card import Feedback


@dataclass(frozen=True)
class Asked:
    """Who asked, and for which operation."""

    caller: str
    operation: str


#: The outcome where the record lacks what planning needs.
DATA_REQUIRED = "data_required"
#: A person at the machine itself.
BY_COMMAND = Asked("command line", "plan-grafts")
#: Nobody has said who asks.
NOT_STATED = Asked("not stated", "plan-grafts")


@dataclass(frozen=True, kw_only=True)
class AuditEntry:
    """One answer, refusal or override.

    ``outcome`` is the outcome of a plan, ``data_required``, ``read``, ``refused-`` and the HTTP status, or what became
    of a card; ``detail`` holds error ids or the code of an override reason. ``as_of`` is ISO 8601 with offset.
    ``answer_sha256`` is the hash of the answer Bundle, whatever form it left in.
    """

    caller: str
    operation: str
    outcome: str
    software: str
    duration_milliseconds: int | None  # of making a plan or refusing
    detail: str = ""
    plan_id: str | None = None
    card_id: str | None = None
    input_sha256: str | None = None
    answer_sha256: str | None = None
    as_of: str | None = None
    search_seconds: str | None = None
    evidence: str | None = None
    evidence_sha256: str | None = None
    preferences_sha256: str | None = None
    settings_sha256: str | None = None
    seed: int | None = None
    gap: str | None = None


@dataclass(frozen=True, kw_only=True)
class AuditRow(AuditEntry):
    """An entry in its place. ``sequence`` counts from 1; ``row_hash`` covers everything else, the hash before too."""

    sequence: int
    recorded_at: datetime  # aware
    previous_hash: str
    row_hash: str


def describe_refusal(
    asked: Asked, status: int, error_ids: Iterable[str], body: bytes | None, *, software: str,
    duration_milliseconds: int,
) -> AuditEntry:
    """A refusal with its HTTP status and error ids; ``body`` is what was refused, as far as it was read."""
    return AuditEntry(
        **asdict(asked), outcome=f"refused-{status}", detail=" ".join(error_ids), software=software,
        input_sha256=None if body is None else sha256(body).hexdigest(), duration_milliseconds=duration_milliseconds)


def describe_cards(
    asked: Asked, card_ids: list[str], body: bytes, answer: bytes, *, software: str,
) -> AuditEntry:
    """What a hook was answered: a card, or none; the plan behind it has a row of its own."""
    return AuditEntry(
        **asdict(asked), outcome="card" if card_ids else "no-card", card_id=card_ids[0] if card_ids else None,
        input_sha256=sha256(body).hexdigest(), answer_sha256=sha256(answer).hexdigest(), software=software,
        duration_milliseconds=None)


def describe_feedback(asked: Asked, feedback: Feedback, *, is_known: bool, software: str) -> AuditEntry:
    """What a reader made of a card. The id of a card that was never shown is the caller's text and is left out."""
    return AuditEntry(
        **asdict(asked), outcome=feedback.outcome if is_known else "unknown-card", detail=feedback.reason_code or "",
        card_id=feedback.card_id if is_known else None, software=software, duration_milliseconds=None)


def describe_answer(answer: PlanAnswer) -> dict[str, object]:
    """Outcome, versions and moment of an answer, by column."""
    plan, request = answer.plan, answer.case.request
    return asdict(answer.versions) | {
        "outcome": plan.outcome.value,
        "detail": plan.reason_no_plan,
        "gap": None if plan.gap is None else str(plan.gap),
        "as_of": request.as_of.isoformat(),
        "search_seconds": str(request.search_seconds),
    }
