"""Each answer and each refusal of an operation leaves one row; a row names nobody but the caller."""

from datetime import UTC, datetime, timedelta
from hashlib import sha256

import httpx2 as httpx
import pytest

from service.settings import Settings
from service.storage.storage import open_storage
from service.storage.verify_trail import verify_trail
from tests.conftest import SAMPLES, serve
from tests.contract.issuer import PUBLIC_BASE, bearer, run_issuer
from tests.privacy.watch import planted_texts

PLAN, READ = "/fhir/$plan-grafts", "/fhir/$read-burn-record"
NOW = datetime.now(UTC)
FAR = NOW + timedelta(days=10_000)
FHIR = {"Content-Type": "application/fhir+json"}


@pytest.fixture(scope="module")
def database(tmp_path_factory):
    return str(tmp_path_factory.mktemp("audit") / "graftstage.sqlite")


@pytest.fixture(scope="module")
def http(database):
    with serve(Settings(database=database)) as address, \
            httpx.Client(base_url=address, timeout=60, trust_env=False) as client:
        yield client


def test_a_plan_leaves_a_row_with_all_that_makes_it_again(http, new_rows, first_plan_body):
    answer = http.post(PLAN, content=first_plan_body, headers=FHIR)
    (row,) = new_rows()
    assert (row.caller, row.operation) == ("unauthenticated", "plan-grafts")
    assert row.outcome in {"optimal", "best_found"}
    assert row.input_sha256 == sha256(first_plan_body).hexdigest()
    assert row.answer_sha256 == sha256(answer.content).hexdigest()
    assert answer.json()["identifier"]["value"] == f"urn:uuid:{row.plan_id}"
    assert None not in (row.evidence_sha256, row.preferences_sha256, row.settings_sha256, row.seed, row.as_of)
    assert row.duration_milliseconds > 0


def test_every_form_of_an_answer_has_the_hash_of_the_same_bundle(http, new_rows, first_plan_body):
    text = http.post(PLAN, content=first_plan_body, headers=FHIR | {"Accept": "text/plain"}).text
    http.post(PLAN, params={"_pretty": "true"}, content=first_plan_body, headers=FHIR)
    rows = new_rows()
    assert len({row.answer_sha256 for row in rows}) == 1 and len(rows) == 2
    assert f"Plan id: {rows[0].plan_id}" in text


@pytest.mark.parametrize(("path", "sent", "headers", "outcome", "detail"), [
    (PLAN, "missing-weight", {}, "data_required", ""),
    (PLAN, "comfort-care", {}, "no_plan", "comfort-care"),
    (READ, "wrong-units", {}, "read", ""),
    (PLAN, "two-patients", {}, "refused-422", "patient-twice"),
    (PLAN, "missing-weight", {"Accept": "image/png"}, "refused-406", "not-acceptable"),
    (PLAN, "missing-weight", {"Content-Type": "text/html"}, "refused-415", "media-type-not-supported"),
])
def test_other_answers_and_refusals_leave_a_row_too(http, new_rows, path, sent, headers, outcome, detail):
    http.post(path, content=(SAMPLES / f"{sent}.json").read_bytes(), headers=FHIR | headers)
    (row,) = new_rows()
    assert (row.operation, row.outcome) == (path.partition("$")[2], outcome)
    assert detail in row.detail


def test_a_body_that_is_too_large_leaves_a_row(http, new_rows):
    http.post(PLAN, content=b" " * (Settings().max_body_bytes + 1), headers=FHIR)
    (row,) = new_rows()
    assert (row.outcome, row.detail, row.input_sha256) == ("refused-413", "body-too-large", None)


def test_a_fault_of_ours_leaves_a_row(http, new_rows, first_plan_body, monkeypatch):
    monkeypatch.setattr("service.wiring.plan_grafting", lambda *_, **__: 1 / 0)
    assert http.post(PLAN, content=first_plan_body, headers=FHIR).status_code == 500
    (row,) = new_rows()
    assert (row.outcome, row.detail) == ("refused-500", "service-fault")
    assert row.input_sha256 == sha256(first_plan_body).hexdigest()


def test_the_caller_of_a_token_is_issuer_and_client(tmp_path, first_plan_body):
    file = str(tmp_path / "tokens.sqlite")
    with run_issuer() as issuer, serve(Settings(
            database=file, public_base=PUBLIC_BASE, access_token_issuers=issuer.trusted,
            token_endpoint=f"{issuer.address}/token")) as address:
        token = issuer.sign(issuer.access_claims(sub="Practitioner/anna"))
        for shown in (bearer(token), {}):
            httpx.post(f"{address}{PLAN}", content=first_plan_body, headers=FHIR | shown, timeout=60, trust_env=False)
    let_in, refused = open_storage(file).trail.rows()
    assert let_in.caller == f"{issuer.address} planner"
    assert let_in.outcome in {"optimal", "best_found"}
    assert (refused.caller, refused.outcome) == ("unauthenticated", "refused-401")
    assert "anna" not in repr(let_in)


def test_the_workbench_leaves_rows_too(http, new_rows):
    http.post("/workbench/read", files={"sample": (None, "missing-weight")})
    http.post("/workbench/plan", files={"record": (None, "nothing of ours")})
    assert [(row.operation, row.outcome) for row in new_rows()] == [
        ("workbench-read", "read"), ("workbench-plan", "refused-422")]


def test_what_is_no_operation_leaves_no_row(http, new_rows):
    http.get("/fhir/metadata")
    for path in ("/fhir/elsewhere", "/fhir/$anna-muster", f"{PLAN}/anna-muster", "/cds-services/anna-muster"):
        assert http.post(path, content=b"{}", headers=FHIR).status_code == 404
    http.get("/livez")
    assert new_rows() == []


def test_no_row_holds_a_text_of_a_patient(http, database):
    for sample in SAMPLES.glob("*.json"):
        http.post(PLAN, content=sample.read_bytes(), headers=FHIR)
    trail = open_storage(database).trail
    assert verify_trail(trail).faults == ()
    said = " ".join(map(repr, trail.rows()))
    assert [text for text in planted_texts(SAMPLES) if text in said] == []


def test_a_request_is_kept_only_where_the_site_says_so(http, database, tmp_path, first_plan_body):
    plan_id = http.post(PLAN, content=first_plan_body, headers=FHIR).json()["identifier"]["value"][9:]
    assert open_storage(database).kept_plans.drop_expired(FAR) == 0
    file = str(tmp_path / "kept.sqlite")
    with serve(Settings(database=file, keep_plan_hours=1)) as address:
        httpx.post(f"{address}{PLAN}", content=first_plan_body, headers=FHIR, timeout=60, trust_env=False)
    kept = open_storage(file).kept_plans.find(plan_id, now=NOW)
    assert kept.input_body == first_plan_body
