"""The chain of the trail: what the database refuses, what verification finds, and who may write at once."""

import json
import re
from contextlib import contextmanager
from dataclasses import asdict
from hashlib import sha256
from subprocess import Popen
from sys import executable
from threading import Thread

import pytest
from sqlalchemy import delete, insert, text, update

from service.domain.errors import StorageFault
from service.storage.audit_entry import Asked, AuditEntry
from service.storage.audit_trail import BEFORE_THE_FIRST, hash_row
from service.storage.storage import open_storage
from service.storage.tables import audit_head, audit_row
from service.storage.verify_trail import verify_trail

ASKED = Asked("client-1", "plan-grafts")


def entry(**changes):
    return AuditEntry(**{
        "caller": "client-1", "operation": "plan-grafts", "outcome": "best_found", "software": "0.1.0",
        "duration_milliseconds": 12, "plan_id": "p", "gap": "0.01", "seed": 1} | changes)


@pytest.fixture
def trail(storage):
    """Five rows."""
    for number in range(5):
        storage.trail.append(entry(seed=number))
    return storage.trail


@contextmanager
def tampering(database):
    """A connection of somebody with full rights: the guards are off."""
    with database.writing() as connection:
        if connection.dialect.name == "postgresql":
            for table in ("audit_row", "audit_head"):
                connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))
        else:
            names = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
            for name in names:
                connection.execute(text(f"DROP TRIGGER {name}"))
        yield connection


def faults(trail, noted=None):
    return verify_trail(trail, noted=noted).faults


def test_each_row_holds_the_hash_of_the_one_before(trail):
    rows = list(trail.rows())
    assert [row.sequence for row in rows] == [1, 2, 3, 4, 5]
    assert [row.previous_hash for row in rows] == [BEFORE_THE_FIRST, *(row.row_hash for row in rows[:-1])]
    assert trail.head() == (5, rows[-1].row_hash)
    assert faults(trail) == ()


def test_the_hash_is_what_anybody_can_compute(trail):
    row = asdict(next(trail.rows()))
    row_hash, moment = row.pop("row_hash"), row["recorded_at"].strftime("%Y-%m-%dT%H:%M:%S.%f+00:00")
    written = json.dumps(row | {"recorded_at": moment}, sort_keys=True, separators=(",", ":"))
    assert sha256(written.encode()).hexdigest() == row_hash


def test_an_empty_trail_is_as_written(storage):
    assert verify_trail(storage.trail).row_count == 0
    assert faults(storage.trail) == ()


@pytest.mark.parametrize("statement", [
    "UPDATE audit_row SET outcome = 'optimal' WHERE sequence = 3",
    "DELETE FROM audit_row WHERE sequence = 5",
    "DELETE FROM audit_head",
    "UPDATE audit_head SET sequence = 3",
    "UPDATE audit_head SET row_hash = 'x'",
])
def test_the_database_refuses_to_change_or_drop(trail, database, statement):
    with pytest.raises(StorageFault), database.writing() as connection:
        connection.execute(text(statement))
    assert faults(trail) == ()


def test_the_ways_around_a_trigger_are_refused_too(trail, database):
    if database.engine.dialect.name == "sqlite":
        statement = "INSERT OR REPLACE INTO audit_row SELECT * FROM audit_row WHERE sequence = 3"
    else:
        statement = "TRUNCATE audit_row"
    with pytest.raises(StorageFault), database.writing() as connection:
        connection.execute(text(statement))
    assert faults(trail) == ()


@pytest.mark.parametrize("column", [
    column.name for column in audit_row.columns
    if column.name not in ("sequence", "row_hash", "previous_hash", "recorded_at")])
def test_a_changed_column_is_found(trail, database, column):
    other = 77 if column in ("seed", "duration_milliseconds") else "other"
    with tampering(database) as connection:
        connection.execute(update(audit_row).where(audit_row.c.sequence == 3).values({column: other}))
    assert faults(trail) == ("row 3 was changed",)


def test_a_changed_row_with_its_hash_made_anew_is_found(trail, database):
    row = asdict(list(trail.rows())[2]) | {"outcome": "optimal"}
    with tampering(database) as connection:
        connection.execute(update(audit_row).where(audit_row.c.sequence == 3).values(
            outcome="optimal", row_hash=hash_row(row)))
    assert faults(trail) == ("row 4 does not follow the row before it",)


@pytest.mark.parametrize(("removed", "said"), [
    ([1], "1 rows are missing before row 2"), ([2, 3], "2 rows are missing before row 4"),
    ([5], "1 rows are missing at the end"), ([1, 2, 3, 4, 5], "5 rows are missing at the end"),
])
def test_removed_rows_are_found(trail, database, removed, said):
    with tampering(database) as connection:
        connection.execute(delete(audit_row).where(audit_row.c.sequence.in_(removed)))
    assert faults(trail) == (said,)


def test_rows_in_another_order_are_found(trail, database):
    with tampering(database) as connection:
        for there, here in ((3, 33), (4, 3), (33, 4)):
            connection.execute(update(audit_row).where(audit_row.c.sequence == there).values(sequence=here))
    assert {"row 3 was changed", "row 4 was changed"} < set(faults(trail))


def test_removed_rows_with_the_others_counted_anew_are_found(trail, database):
    with tampering(database) as connection:
        connection.execute(delete(audit_row).where(audit_row.c.sequence == 3))
        for sequence in (4, 5):
            connection.execute(update(audit_row).where(audit_row.c.sequence == sequence).values(sequence=sequence - 1))
    assert "row 3 was changed" in faults(trail)


def test_a_row_slipped_in_at_the_end_is_found(trail, database):
    row = asdict(list(trail.rows())[-1])
    row |= {"sequence": 6, "previous_hash": row["row_hash"]}
    with tampering(database) as connection:
        connection.execute(insert(audit_row).values(**row | {"row_hash": hash_row(row)}))
    assert faults(trail) == ("1 rows at the end were not added by this service",)


def test_an_end_cut_off_with_its_head_shows_against_a_noted_head_only(trail, database):
    noted, fourth = trail.head(), list(trail.rows())[3]
    with tampering(database) as connection:
        connection.execute(delete(audit_row).where(audit_row.c.sequence == 5))
        connection.execute(update(audit_head).values(sequence=4, row_hash=fourth.row_hash))
    assert faults(trail) == ()
    assert faults(trail, noted) == ("row 5 is not the one that was noted",)


def test_a_noted_head_that_is_still_there_is_no_fault(trail, storage):
    noted = trail.head()
    storage.trail.append(entry())
    assert faults(trail, noted) == ()


def test_the_number_and_hash_of_each_row_go_to_the_log(storage, caplog):
    with caplog.at_level("INFO", "graftstage"):
        row = storage.trail.append(entry())
    assert f"audit row 1 {row.row_hash}" in caplog.text


def test_rows_are_found_by_what_is_asked_for(storage):
    first = storage.trail.append(entry(operation="read-burn-record", outcome="read", plan_id=None))
    second = storage.trail.append(entry(plan_id="q"))
    assert list(storage.trail.rows(operation="read-burn-record")) == [first]
    assert list(storage.trail.rows(plan_id="q", outcome="best_found")) == [second]
    assert list(storage.trail.rows(since=second.recorded_at)) == [second]


def test_threads_write_one_chain(storage):
    threads = [Thread(target=lambda: [storage.trail.append(entry()) for _ in range(10)]) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert verify_trail(storage.trail).row_count == 40
    assert faults(storage.trail) == ()


WRITER = """
from service.storage.audit_entry import AuditEntry
from service.storage.storage import open_storage
import sys
trail = open_storage(sys.argv[1]).trail
for number in range(20):
    trail.append(AuditEntry(caller="c", operation="o", outcome="read", software="1", duration_milliseconds=1))
"""


def test_processes_write_one_chain(database_setting):
    writers = [Popen([executable, "-c", WRITER, database_setting]) for _ in range(3)]
    assert [writer.wait(60) for writer in writers] == [0, 0, 0]
    report = verify_trail(open_storage(database_setting).trail)
    assert (report.row_count, report.faults) == (60, ())
    assert re.fullmatch("[0-9a-f]{64}", report.row_hash)
