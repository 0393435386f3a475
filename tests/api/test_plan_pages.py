"""Pages of kept plans: shown while they are kept, made again with the same figures, and gone after that."""

import json
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from starlette.testclient import TestClient

from service.api.app import create_app
from service.settings import Settings
from service.storage.kept_plan import KeptPlan
from tests.conftest import FIRST_PLAN


@pytest.fixture(scope="module")
def keeping() -> TestClient:
    with TestClient(create_app(Settings(keep_plan_hours=1))) as client:
        yield client


@pytest.fixture(scope="module")
def planned(keeping) -> dict:
    answer = keeping.post("/fhir/$plan-grafts", content=FIRST_PLAN.read_bytes(),
                          headers={"Content-Type": "application/fhir+json"})
    return json.loads(answer.content)


def plan_id(bundle: dict) -> str:
    return bundle["identifier"]["value"].removeprefix("urn:uuid:")


def test_a_kept_plan_has_its_sheet_and_lists(keeping, planned):
    page = keeping.get(f"/plans/{plan_id(planned)}")
    assert page.status_code == 200
    dates = [e["resource"]["occurrenceDateTime"] for e in planned["entry"]
             if e["resource"]["resourceType"] == "ServiceRequest" and "occurrenceDateTime" in e["resource"]]
    assert all(date in page.text for date in dates)
    assert "script-src 'self'" in page.headers["content-security-policy"]
    assert page.headers["cache-control"] == "no-store"
    listed = keeping.get(f"/plans/{plan_id(planned)}/theatre-lists/1")
    assert listed.status_code == 200 and "Theatre list" in listed.text
    for address in ("sheet.pdf", "theatre-lists/1/list.pdf"):
        assert keeping.get(f"/plans/{plan_id(planned)}/{address}").content.startswith(b"%PDF-")


@pytest.mark.parametrize("address", [
    "/plans/00000000-0000-0000-0000-000000000000", "/plans/other", "/plans/other/sheet.pdf",
    "/plans/other/theatre-lists/1"])
def test_what_is_not_kept_is_said_on_a_page(keeping, address):
    page = keeping.get(address)
    assert page.status_code == 404
    assert "not kept" in unescape(page.text)


def test_a_session_that_is_not_there_is_not_shown(keeping, planned):
    assert keeping.get(f"/plans/{plan_id(planned)}/theatre-lists/99").status_code == 404


def test_a_plan_is_gone_when_its_time_is_over(keeping):
    storage = keeping.app.state.parts.storage
    past = datetime.now(UTC) - timedelta(hours=2)
    storage.kept_plans.keep(
        KeptPlan("over", FIRST_PLAN.read_bytes(), "2026-03-04T07:00:00+01:00", "2", past), now=past)
    assert keeping.get("/plans/over").status_code == 404


def test_nothing_is_kept_unless_a_site_says_so():
    with TestClient(create_app(Settings())) as client:
        answer = client.post("/fhir/$plan-grafts", content=FIRST_PLAN.read_bytes(),
                             headers={"Content-Type": "application/fhir+json"})
        assert client.get(f"/plans/{plan_id(json.loads(answer.content))}").status_code == 404


def test_the_workbench_keeps_nothing_even_where_plans_are_kept(keeping):
    before = keeping.app.state.parts.storage.kept_plans.drop_expired(datetime.now(UTC) + timedelta(days=9))
    assert before >= 0
    page = keeping.post("/workbench/read", files={"file": ("record.json", FIRST_PLAN.read_bytes())})
    assert page.status_code == 200
    record = page.text.split('name="record" value="')[1].split('"')[0]
    done = keeping.post("/workbench/plan", files={"record": (None, record), "as-of": (None, "")})
    assert done.status_code == 200 and "The plan in numbers" in done.text
    assert keeping.app.state.parts.storage.kept_plans.drop_expired(datetime.now(UTC) + timedelta(days=9)) == 0


def test_pages_leave_their_rows_in_the_audit_trail(keeping, planned):
    keeping.get(f"/plans/{plan_id(planned)}")
    operations = {row.operation for row in keeping.app.state.parts.storage.trail.rows()}
    assert {"plan-page", "workbench-plan"} <= operations
