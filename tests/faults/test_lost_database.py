"""What leaves when the database is full, locked or gone: no answer that is not recorded, and a refusal that says so."""

import os
import shutil
import sqlite3
from contextlib import contextmanager

import httpx2 as httpx
import pgserver
import pytest
from sqlalchemy import event
from sqlalchemy.pool import QueuePool

from service.settings import Settings
from service.storage import database as database_module
from service.storage.storage import open_storage
from service.storage.verify_trail import verify_trail
from tests.conftest import serve

PLAN = "/fhir/$plan-grafts"
FHIR = {"Content-Type": "application/fhir+json"}


@pytest.fixture
def file(tmp_path, monkeypatch):
    monkeypatch.setattr(database_module, "PATIENCE_MILLISECONDS", 200)
    return tmp_path / "graftstage.sqlite"


@contextmanager
def calling(setting):
    with serve(Settings(database=str(setting))) as address, \
            httpx.Client(base_url=address, timeout=60, trust_env=False) as http:
        yield http


def error_id(answer):
    return answer.json()["issue"][0]["details"]["coding"][0]["code"]


def assert_withheld(http, body):
    answer = http.post(PLAN, content=body, headers=FHIR)
    assert (answer.status_code, error_id(answer)) == (503, "audit-unavailable")
    assert "CarePlan" not in answer.text
    refused = http.post(PLAN, content=b"{", headers=FHIR)
    assert (refused.status_code, error_id(refused)) == (400, "not-json")
    assert http.get("/livez").status_code == 200


def test_while_another_program_holds_the_lock_no_answer_leaves(file, first_plan_body):
    with calling(file) as http:
        other = sqlite3.connect(file, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        assert_withheld(http, first_plan_body)
        other.execute("ROLLBACK")
        assert http.post(PLAN, content=first_plan_body, headers=FHIR).status_code == 200
    assert [row.outcome for row in open_storage(str(file)).trail.rows()] == ["best_found"]


def test_on_a_full_disk_no_answer_leaves_and_the_chain_holds(file, first_plan_body):
    @event.listens_for(QueuePool, "checkout")
    def fill(connection, _record, _proxy):
        connection.execute(f"PRAGMA max_page_count={pages}")

    pages = 1_000_000
    try:
        with calling(file) as http:
            assert http.post(PLAN, content=first_plan_body, headers=FHIR).status_code == 200
            pages = 1  # no page is added from here on
            answers = [http.post(PLAN, content=first_plan_body, headers=FHIR) for _ in range(12)]
            statuses = [answer.status_code for answer in answers]
            assert statuses[-1] == 503 and error_id(answers[-1]) == "audit-unavailable"
            pages = 1_000_000
            assert http.post(PLAN, content=first_plan_body, headers=FHIR).status_code == 200
    finally:
        event.remove(QueuePool, "checkout", fill)
    trail = open_storage(str(file)).trail
    assert verify_trail(trail).faults == ()
    assert [row.outcome for row in trail.rows()].count("best_found") == 2 + statuses.count(200)


def test_a_file_that_was_deleted_is_noticed(file, first_plan_body):
    with calling(file) as http:
        assert http.get("/readyz").status_code == 200
        for name in os.listdir(file.parent):
            (file.parent / name).unlink()
        assert_withheld(http, first_plan_body)
        assert http.get("/readyz").status_code == 503
        assert os.listdir(file.parent) == []


def test_a_file_that_is_no_database_any_more_is_noticed(file, first_plan_body):
    with calling(file) as http:
        other = file.parent / "other"
        for name in os.listdir(file.parent):
            other.write_bytes(b"something else " * 500)
            other.rename(file.parent / name)
        assert_withheld(http, first_plan_body)


def test_a_server_that_stops_is_noticed_and_one_that_comes_back_is_used(tmp_path_factory, first_plan_body):
    folder = tmp_path_factory.mktemp("stopped-postgresql")
    server = pgserver.get_server(folder, cleanup_mode="stop")
    with calling(server.get_uri()) as http:
        assert http.post(PLAN, content=first_plan_body, headers=FHIR).status_code == 200
        server.cleanup()
        assert_withheld(http, first_plan_body)
        assert http.get("/readyz").status_code == 503
        server = pgserver.get_server(folder, cleanup_mode="stop")
        assert http.post(PLAN, content=first_plan_body, headers=FHIR).status_code == 200
    assert verify_trail(open_storage(server.get_uri()).trail).faults == ()
    server.cleanup()
    shutil.rmtree(folder)
