"""Looks for rows of the audit trail that were changed, removed or put in another order.

What it cannot find by itself: a trail that somebody with full rights has rewritten from some row to its end, hashes and
head included. A head that was noted elsewhere, as the log does with each row, finds that too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass

from service.storage.audit_entry import AuditRow
from service.storage.audit_trail import BEFORE_THE_FIRST, AuditTrail, hash_row


@dataclass(frozen=True)
class TrailReport:
    """How many rows there are, the last number and hash, and everything that is wrong with them, in words."""

    row_count: int
    sequence: int
    row_hash: str
    faults: tuple[str, ...]


def verify_trail(trail: AuditTrail, *, noted: tuple[int, str] | None = None) -> TrailReport:
    """Go through every row.

    Parameters
    ----------
    trail : AuditTrail
        The trail.
    noted : tuple of int and str, optional
        Number and hash of a row as noted elsewhere.
    """
    walk = _Walk(noted)
    with trail.at_one_moment() as (head, rows):
        faults = [*walk.through(rows), *walk.at_the_end(head)]
    return TrailReport(walk.row_count, walk.sequence, walk.row_hash, tuple(faults))


class _Walk:
    """Where the walk through the rows has come to."""

    def __init__(self, noted: tuple[int, str] | None) -> None:
        self.row_count, self.sequence, self.row_hash = 0, 0, BEFORE_THE_FIRST
        self._noted, self._noted_is_there = noted, noted is None

    def through(self, rows: Iterable[AuditRow]) -> Iterator[str]:
        for row in rows:
            yield from self._check(row)
            self.row_count, self.sequence, self.row_hash = self.row_count + 1, row.sequence, row.row_hash
            self._noted_is_there |= (row.sequence, row.row_hash) == self._noted

    def _check(self, row: AuditRow) -> Iterator[str]:
        missing = row.sequence - self.sequence - 1
        if missing:
            yield f"{missing} rows are missing before row {row.sequence}"
        if hash_row(asdict(row)) != row.row_hash:
            yield f"row {row.sequence} was changed"
        if not missing and row.previous_hash != self.row_hash:
            yield f"row {row.sequence} does not follow the row before it"

    def at_the_end(self, head: tuple[int, str]) -> Iterator[str]:
        sequence, row_hash = head
        if sequence > self.sequence:
            yield f"{sequence - self.sequence} rows are missing at the end"
        elif sequence < self.sequence:
            yield f"{self.sequence - sequence} rows at the end were not added by this service"
        elif row_hash != self.row_hash:
            yield "the last row is not the one that was added last"
        if not self._noted_is_there:
            yield f"row {self._noted[0]} is not the one that was noted"
