"""Which addresses ask for a token, which do not, and what is said about it."""

import logging
import re
import subprocess
import sys
from collections.abc import Iterator

import pytest
from joserfc.jwk import ECKey
from starlette.testclient import TestClient

from service.api.app import create_app
from service.api.security import OPEN
from service.domain.errors import ServiceFault
from service.fhir.operation_scopes import operation_needs
from service.fhir.write_operation_definition import OPERATIONS
from service.settings import Settings
from tests.contract.issuer import PUBLIC_BASE, Issuer, bearer, run_issuer

#: Everything that may be asked for without a token. Whoever adds to it decides that it tells nothing of a patient.
OPEN_ADDRESSES = {
    "/", "/docs", "/docs/swagger-ui-bundle.js", "/docs/swagger-ui.css", "/docs/favicon.png", "/openapi.json",
    "/livez", "/readyz", "/workbench/style.css", "/workbench/workbench.js",
    "/.well-known/smart-configuration", "/.well-known/jwks.json", "/fhir/.well-known/smart-configuration",
    "/fhir/metadata", "/fhir/$versions",
    *(f"/fhir/{name}{more}"
      for name in ("CodeSystem", "ValueSet", "StructureDefinition", "OperationDefinition", "PlanDefinition")
      for more in ("", "/{resource_id}")),
}
TRUSTED = {
    "public_base": PUBLIC_BASE, "access_token_issuers": "https://login.example=https://login.example/keys",
    "token_endpoint": "https://login.example/token", "database": "memory"}


@pytest.fixture(scope="module")
def closed() -> TestClient:
    return TestClient(create_app(Settings(**TRUSTED)))


def routes_of(app) -> list[tuple[str, str]]:
    """Method and path of every route, pages included."""
    routers = [held.original_router for held in app.router.routes if hasattr(held, "original_router")]
    routes = [route for holder in (app.router, *routers) for route in holder.routes if hasattr(route, "methods")]
    return [(method, route.path) for route in routes for method in route.methods]


def test_every_address_but_the_open_ones_asks_for_a_token(closed):
    asked, answered = set(), set()
    for method, path in routes_of(closed.app):
        answer = closed.request(method, re.sub(r"\{.*?\}", "1", path))
        (asked if answer.status_code == 401 else answered).add(path)
    assert answered <= OPEN_ADDRESSES
    assert {"/fhir/$plan-grafts", "/fhir/$read-burn-record", "/cds-services", "/cds-services/{service_id}",
            "/plans/{plan_id}", "/workbench/plan"} <= asked


def test_the_list_of_open_routes_is_as_agreed():
    assert OPEN <= OPEN_ADDRESSES


@pytest.mark.parametrize("path", [
    "/fhir/$plan-grafts/", "//fhir/$plan-grafts", "/FHIR/$plan-grafts", "/fhir/%24plan-grafts", "/fhir/./$plan-grafts",
    "/docs/../fhir/$plan-grafts", "/docs//fhir/$plan-grafts"])
def test_another_spelling_opens_nothing(closed, path):
    assert closed.post(path, content=b"{}").status_code in (401, 404, 405)


def test_every_operation_is_open_by_decision_or_has_its_scopes():
    codes = {operation.code for operation in OPERATIONS}
    assert set(operation_needs()) == codes - {"versions"}


def test_each_definition_names_the_scopes_that_are_checked(client):
    for code, needs in operation_needs().items():
        comment = client.get(f"/fhir/OperationDefinition/{code}").json()["comment"]
        assert all(need.scope in comment for need in needs)
    assert client.get("/fhir/OperationDefinition/versions").json()["comment"] == "Open to everybody."


@pytest.mark.parametrize("path", ["/.well-known/smart-configuration", "/fhir/.well-known/smart-configuration"])
@pytest.mark.parametrize("accept", ["*/*", "application/fhir+json", "text/html"])
def test_the_smart_configuration_is_json_for_everybody(closed, path, accept):
    answer = closed.get(path, headers={"Accept": accept})
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/json"
    told = answer.json()
    assert told["token_endpoint"] == "https://login.example/token"
    assert {"grant_types_supported", "capabilities", "code_challenge_methods_supported"} <= told.keys()
    assert "plain" not in told["code_challenge_methods_supported"]
    assert "system/Observation.rs" in told["scopes_supported"]


def test_where_no_token_is_asked_for_there_is_no_smart_configuration(client):
    assert client.get("/fhir/.well-known/smart-configuration").status_code == 404
    assert client.get("/.well-known/jwks.json").status_code == 404


@pytest.fixture
def own_client(tmp_path):
    """The settings of a service that signs for itself."""
    file = tmp_path / "client.pem"
    file.write_bytes(ECKey.generate_key("P-384").as_pem(private=True))
    return {
        "record_servers": ("https://record.example/fhir",), "record_client_id": "graftstage",
        "record_key_file": str(file), "record_token_endpoint": "https://login.example/token"}


def test_the_public_part_of_our_own_key_is_open_to_everybody(own_client):
    answer = TestClient(create_app(Settings(**TRUSTED, **own_client))).get("/.well-known/jwks.json")
    assert answer.status_code == 200 and "max-age" in answer.headers["cache-control"]
    (key,) = answer.json()["keys"]
    assert key["alg"] == "ES384" and key["kid"] and "d" not in key


def test_a_key_file_that_cannot_be_used_stops_the_start(own_client):
    with pytest.raises(ServiceFault, match="key file"):
        create_app(Settings(**TRUSTED, **own_client | {"record_key_file": "/nowhere/key.pem"}))


def test_the_capability_statement_says_how_callers_are_admitted(client, closed):
    security = client.get("/fhir/metadata").json()["rest"][0]["security"]
    assert "No tokens are asked for" in security["description"] and "service" not in security
    security = closed.get("/fhir/metadata").json()["rest"][0]["security"]
    assert security["service"][0]["coding"][0]["code"] == "SMART-on-FHIR"
    open_to_all = TestClient(create_app(Settings(host="0.0.0.0", development_without_tokens=True)))
    assert "DEVELOPMENT SETTING" in open_to_all.get("/fhir/metadata").json()["rest"][0]["security"]["description"]


def test_every_start_says_that_no_token_is_asked_for(caplog):
    with caplog.at_level(logging.WARNING, "graftstage"):
        create_app(Settings())
    assert "No tokens are asked for" in caplog.text
    caplog.clear()
    create_app(Settings(**TRUSTED))
    assert "No tokens are asked for" not in caplog.text


@pytest.fixture(scope="module")
def issuer() -> Iterator[Issuer]:
    with run_issuer() as running:
        yield running


def test_keys_may_change_while_the_service_runs(issuer, monkeypatch):
    monkeypatch.setattr("service.tokens.key_cache.REFETCH_SECONDS", 0)
    app = TestClient(create_app(Settings(**TRUSTED | {"access_token_issuers": issuer.trusted})))

    def status(key: str) -> int:
        return app.post("/fhir/$plan-grafts", headers=bearer(issuer.sign(issuer.access_claims(), key=key))).status_code

    assert status("es-1") != 401
    generation = issuer.rotate()
    assert status(f"es-{generation}") != 401
    assert status("es-1") == 401


def test_keys_are_read_once_for_many_requests(issuer):
    app = TestClient(create_app(Settings(**TRUSTED | {"access_token_issuers": issuer.trusted})))
    token, before = issuer.sign(issuer.access_claims(), key=f"rs-{issuer.rotate()}"), issuer.key_reads
    for _ in range(10):
        assert app.post("/fhir/$plan-grafts", headers=bearer(token)).status_code != 401
    assert issuer.key_reads == before + 1


def test_a_kind_of_token_that_nobody_is_listed_for_opens_nothing(issuer):
    app = TestClient(create_app(Settings(**TRUSTED | {"access_token_issuers": issuer.trusted})))
    generation = issuer.rotate()
    token = issuer.sign(issuer.hook_claims("/cds-services"), key=f"es-{generation}")
    assert app.get("/cds-services", headers=bearer(token)).status_code == 401


def test_a_token_for_one_patient_opens_no_page_that_does_not_look(issuer):
    app = TestClient(create_app(Settings(**TRUSTED | {"access_token_issuers": issuer.trusted})))
    key = f"es-{issuer.rotate()}"
    one = issuer.sign(issuer.access_claims(patient="p1"), key=key)
    anyone = issuer.sign(issuer.access_claims(), key=key)
    assert app.post("/workbench/plan", headers=bearer(one)).status_code == 403
    assert app.post("/workbench/plan", headers=bearer(anyone)).status_code not in (401, 403)


@pytest.mark.parametrize(("client", "caller"), [
    ("planner", " planner"), (None, ""), ("a\nb", ""), ("a b", ""), ("x" * 201, ""), (["planner"], "")])
def test_who_asked_stands_in_the_audit_trail(issuer, client, caller):
    app = TestClient(create_app(Settings(**TRUSTED | {"access_token_issuers": issuer.trusted})))
    token = issuer.sign(issuer.access_claims(client_id=client), key=f"es-{issuer.rotate()}")
    app.post("/fhir/$plan-grafts", headers=bearer(token))
    app.post("/fhir/$plan-grafts", headers=bearer("a.b.c"))
    rows = list(app.app.state.parts.storage.trail.rows())
    assert [row.caller for row in rows] == [f"{issuer.address}{caller}", "unauthenticated"]


def test_where_used_tokens_cannot_be_looked_up_no_hook_is_answered(issuer, caplog):
    app = TestClient(create_app(Settings(**TRUSTED | {"hook_clients": issuer.trusted})))
    key = f"es-{issuer.rotate()}"
    with app.app.state.parts.storage.database.writing() as connection:
        connection.exec_driver_sql("DROP TABLE seen_token")
    answer = app.get("/cds-services", headers=bearer(issuer.sign(issuer.hook_claims("/cds-services"), key=key)))
    assert answer.status_code == 503
    assert answer.json()["issue"][0]["details"]["coding"][0]["code"] == "tokens-unavailable"
    assert "used tokens cannot be looked up" in caplog.text


def test_a_page_of_a_named_origin_may_send_a_token():
    app = TestClient(create_app(Settings(cors_origins="https://records.example.org", **TRUSTED)))
    answer = app.options("/fhir/$plan-grafts", headers={
        "Origin": "https://records.example.org", "Access-Control-Request-Method": "POST",
        "Access-Control-Request-Headers": "authorization,content-type"})
    assert answer.status_code == 200
    refused = app.post("/fhir/$plan-grafts", headers={"Origin": "https://records.example.org"})
    assert refused.status_code == 401
    assert refused.headers["access-control-allow-origin"] == "https://records.example.org"


@pytest.mark.parametrize(("host", "more", "code"), [
    ("0.0.0.0", {}, 2), ("127.0.0.1", {}, 0), ("0.0.0.0", {"GRAFTSTAGE_DEVELOPMENT_WITHOUT_TOKENS": "true"}, 0)])
def test_the_command_starts_beyond_loopback_only_when_told_how(monkeypatch, host, more, code):
    for name, value in {"GRAFTSTAGE_HOST": host, **more}.items():
        monkeypatch.setenv(name, value)
    done = subprocess.run(
        [sys.executable, "-m", "service.cli", "serve", "--show-settings"], capture_output=True, text=True, timeout=60)
    assert done.returncode == code
    if code:
        assert "beyond loopback tokens are asked for" in done.stderr and not done.stdout
    else:
        assert f"GRAFTSTAGE_HOST={host}" in done.stdout.splitlines()


def test_a_plan_is_not_shown_where_tokens_are_asked_for(monkeypatch):
    for name, value in TRUSTED.items():
        monkeypatch.setenv(f"GRAFTSTAGE_{name.upper()}", value)
    done = subprocess.run(
        [sys.executable, "-m", "service.cli", "serve", "--show", "x.json"], capture_output=True, text=True, timeout=60)
    assert done.returncode == 2 and "tokens are asked for" in done.stderr
