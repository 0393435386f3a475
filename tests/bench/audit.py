"""What recording an answer costs: one row of the audit trail, in SQLite on disk and in PostgreSQL."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory, TemporaryFile, mkdtemp
from typing import BinaryIO

import pgserver

from service.storage.audit_entry import AuditEntry
from service.storage.storage import open_storage
from tests.bench.timing import median_milliseconds

ROUNDS = 200
PAGE_BYTES = 4096
ENTRY = AuditEntry(
    caller="bench", operation="plan-grafts", outcome="best_found", software="bench", duration_milliseconds=1,
    plan_id="0" * 36, input_sha256="0" * 64, answer_sha256="0" * 64, seed=1, gap="0.01")


def measure_audit() -> Iterator[tuple[str, float]]:
    """Name of the database, and milliseconds a row."""
    with TemporaryDirectory() as folder:
        yield "SQLite", _milliseconds_a_row(str(Path(folder) / "bench.sqlite"))
    server = pgserver.get_server(mkdtemp(prefix="graftstage-bench-"), cleanup_mode="delete")
    yield "PostgreSQL", _milliseconds_a_row(server.get_uri())
    server.cleanup()


def flush_milliseconds() -> float:
    """What no durable row can do without: one page written and flushed."""
    with TemporaryFile() as file:
        return median_milliseconds(partial(_flush_page, file), ROUNDS)


def _flush_page(file: BinaryIO) -> None:
    file.write(bytes(PAGE_BYTES))
    file.flush()
    os.fsync(file.fileno())


def _milliseconds_a_row(setting: str) -> float:
    return median_milliseconds(partial(open_storage(setting).trail.append, ENTRY), ROUNDS)
