"""Makes the plan of an audit row again, and says whether the answer is the same and, if not, what else differs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from hashlib import sha256

from service import __version__
from service.domain.errors import InvalidCase
from service.fhir.plan_id import settings_sha256
from service.storage.audit_entry import AuditRow
from service.storage.storage import Storage
from service.wiring import Parts, answer_plan_request

#: Columns that say what an answer was made with, and what a person calls them.
_MADE_WITH = {
    "software": "software", "evidence": "evidence version", "evidence_sha256": "evidence tables",
    "preferences_sha256": "preferences", "settings_sha256": "canonical base, time zone or code map",
}


@dataclass(frozen=True)
class ReplayReport:
    """Whether the answer is the same, and what there is to say about it; no line names a patient."""

    same: bool
    lines: tuple[str, ...]


def replay(parts: Parts, storage: Storage, plan_id: str, body: bytes | None) -> ReplayReport:
    """Make the answer again with the parts that are here now; nothing is recorded.

    Parameters
    ----------
    parts : Parts
        Of the deployment, without storage.
    storage : Storage
        Holds the audit row, and the request if it was kept.
    plan_id : str
        Name of the answer.
    body : bytes or None
        The request, when it is given; else the one that was kept.

    Raises
    ------
    LookupError
        There is no such row, no request, or another request than the one that was answered.
    """
    row = next(iter(storage.trail.rows(plan_id=plan_id)), None)
    if row is None:
        raise LookupError("the audit trail holds no such plan")
    body = _the_request(storage, row) if body is None else body
    if sha256(body).hexdigest() != row.input_sha256:
        raise LookupError(
            "this is not the request that was answered, or a condition was given beside it: the hash differs "
            "(curl --data takes line breaks out of a file that it sends, --data-binary does not)")
    try:
        answer_sha256 = _make_again(parts, row, body)
    except InvalidCase as refused:
        return _report_difference(parts, row, f"the request is refused now: {refused}")
    if answer_sha256 == row.answer_sha256:
        return ReplayReport(True, (f"row {row.sequence}: the same answer, sha256 {answer_sha256}",))
    return _report_difference(parts, row, f"another answer, sha256 {answer_sha256} instead of {row.answer_sha256}")


def _the_request(storage: Storage, row: AuditRow) -> bytes:
    kept = storage.kept_plans.find(row.plan_id, now=datetime.now(UTC))
    if kept is None:
        raise LookupError("the request was not kept, or no longer: give it with --input")
    return kept.input_body


def _make_again(parts: Parts, row: AuditRow, body: bytes) -> str:
    """Hash of the answer made now.

    The moment of the row stands for the clock; where that is another answer, it was stated beside the request.
    """
    as_of, seconds = datetime.fromisoformat(row.as_of), Decimal(row.search_seconds)
    by_clock = answer_plan_request(parts, body, now=as_of, seconds=seconds).sha256
    if by_clock == row.answer_sha256:
        return by_clock
    return answer_plan_request(parts, body, as_of=as_of, seconds=seconds).sha256


def _report_difference(parts: Parts, row: AuditRow, what: str) -> ReplayReport:
    now = {
        "software": __version__, "evidence": parts.evidence.version, "evidence_sha256": parts.evidence.sha256,
        "preferences_sha256": parts.preferences.sha256, "settings_sha256": settings_sha256(parts.settings),
    }
    differences = [
        f"{words} differs: {getattr(row, column)} then, {now[column]} now"
        for column, words in _MADE_WITH.items() if getattr(row, column) != now[column]]
    return ReplayReport(False, (
        f"row {row.sequence}: {what}", *(differences or ["nothing that the row names differs: a fault to report"])))
