"""Requests that were kept are gone when their time is over, also when nobody calls any more."""

from datetime import UTC, datetime, timedelta
from time import sleep

from sqlalchemy import func, select
from starlette.testclient import TestClient

from service.api import upkeep
from service.api.app import create_app
from service.domain.errors import StorageFault
from service.settings import Settings
from service.storage.kept_plan import KeptPlan
from service.storage.kept_plans import KeptPlans
from service.storage.tables import kept_plan

NOW = datetime.now(UTC)


def count_kept(storage):
    with storage.database.reading() as connection:
        return connection.execute(select(func.count()).select_from(kept_plan)).scalar_one()


def wait_until(true):
    for _ in range(200):
        if true():
            return
        sleep(0.05)
    raise AssertionError("it did not happen")


def test_what_has_expired_is_dropped_at_the_start_and_while_running(monkeypatch):
    monkeypatch.setattr(upkeep, "PAUSE_SECONDS", 0.05)
    app = create_app(Settings(database="memory"))
    storage = app.state.parts.storage
    long_ago = NOW - timedelta(hours=2)

    def keep(plan_id, expires_at):
        storage.kept_plans.keep(KeptPlan(plan_id, b"{}", "", "2", expires_at), now=long_ago)

    keep("before", NOW - timedelta(hours=1))
    with TestClient(app):
        wait_until(lambda: count_kept(storage) == 0)
        keep("meanwhile", NOW - timedelta(hours=1))
        keep("later", NOW + timedelta(hours=1))
        wait_until(lambda: count_kept(storage) == 1)
    assert storage.kept_plans.find("later", now=NOW)


def test_a_lost_database_does_not_end_it(monkeypatch, caplog):
    calls = []

    def fail(*_):
        calls.append(1)
        raise StorageFault("the database failed")

    monkeypatch.setattr(upkeep, "PAUSE_SECONDS", 0.05)
    monkeypatch.setattr(KeptPlans, "drop_expired", fail)
    with TestClient(create_app(Settings(database="memory"))) as http:
        wait_until(lambda: len(calls) > 2)
        assert http.get("/livez").status_code == 200
    assert "kept requests could not be dropped" in caplog.text
