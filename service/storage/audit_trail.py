"""The audit trail: rows that are only ever added, each holding the hash of the one before."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from hashlib import sha256

from sqlalchemy import Connection, Select, insert, select, update

from service.storage.audit_entry import AuditEntry, AuditRow
from service.storage.database import Database
from service.storage.tables import audit_head, audit_row

log = logging.getLogger("graftstage")

#: What stands as the hash before the first row.
BEFORE_THE_FIRST = "0" * 64
_THE_TRAIL = 1
_ROWS_AT_ONCE = 1_000


def hash_row(row: Mapping[str, object]) -> str:
    """SHA-256 over the row without its own hash, as JSON with sorted names and no spaces."""
    content = {name: value for name, value in row.items() if name != "row_hash"}
    content["recorded_at"] = content["recorded_at"].astimezone(UTC).isoformat(timespec="microseconds")
    return sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


class AuditTrail:
    """One chain, whoever writes: writers take turns."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def append(self, entry: AuditEntry) -> AuditRow:
        """Add a row at the end; its number and hash go to the log, which nobody rewrites with the database.

        Raises ``StorageFault``: then there is no row, and what it would have spoken of must not leave.
        """
        with self._database.writing() as connection:
            sequence, previous_hash = _head_of(connection)
            row = asdict(entry) | {
                "sequence": sequence + 1, "recorded_at": datetime.now(UTC), "previous_hash": previous_hash}
            row["row_hash"] = hash_row(row)
            connection.execute(insert(audit_row).values(**row))
            _move_head(connection, row)
        log.info("audit row %d %s", row["sequence"], row["row_hash"])
        return AuditRow(**row)

    def head(self) -> tuple[int, str]:
        """Number and hash of the last row, as noted apart from the rows; 0 while there is none."""
        with self._database.reading() as connection:
            return _head_of(connection)

    def rows(
        self, *, since: datetime | None = None, operation: str | None = None, outcome: str | None = None,
        plan_id: str | None = None,
    ) -> Iterator[AuditRow]:
        """Rows in their order, those that fit all that is asked for."""
        wanted = {"operation": operation, "outcome": outcome, "plan_id": plan_id}
        query = select(audit_row).order_by(audit_row.c.sequence)
        for name, value in wanted.items():
            query = query if value is None else query.where(audit_row.c[name] == value)
        with self._database.reading() as connection:
            yield from _stream(connection, query if since is None else query.where(audit_row.c.recorded_at >= since))

    @contextmanager
    def at_one_moment(self) -> Iterator[tuple[tuple[int, str], Iterator[AuditRow]]]:
        """The head and every row as they are together, whatever is added meanwhile."""
        with self._database.reading() as connection:
            yield _head_of(connection), _stream(connection, select(audit_row).order_by(audit_row.c.sequence))


def _stream(connection: Connection, query: Select) -> Iterator[AuditRow]:
    found = connection.execute(query, execution_options={"yield_per": _ROWS_AT_ONCE})
    return (AuditRow(**row) for row in found.mappings())


def _head_of(connection: Connection) -> tuple[int, str]:
    held = connection.execute(select(audit_head.c.sequence, audit_head.c.row_hash)).first()
    return (held.sequence, held.row_hash) if held else (0, BEFORE_THE_FIRST)


def _move_head(connection: Connection, row: Mapping[str, object]) -> None:
    here = {name: row[name] for name in ("sequence", "row_hash")}
    if row["sequence"] == 1:
        connection.execute(insert(audit_head).values(trail=_THE_TRAIL, **here))
    else:
        connection.execute(update(audit_head).values(**here))
