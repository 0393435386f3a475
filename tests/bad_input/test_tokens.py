"""Lines 129 to 148: tokens that must not open anything. Keys and tokens are made by a JOSE library of another make."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from time import time
from typing import Any

import httpx2 as httpx
import psycopg
import pytest

from service.settings import Settings
from service.tokens.verify import SKEW_SECONDS
from tests import builders as make
from tests.bad_input.test_transport import ANSWERED, line, said
from tests.cds_hooks.hook_calls import PATH as HOOK
from tests.conftest import serve
from tests.contract.issuer import PUBLIC_BASE, Issuer, bearer, run_issuer

PLAN = "/fhir/$plan-grafts"
FHIR = {"Content-Type": "application/fhir+json"}
RECORD = make.body_of(make.record(make.burn_wound()))
PATIENT_ID = make.patient()["id"]
CARDLESS = {
    "hook": "patient-view", "hookInstance": "d1577c69-dfbe-44ad-ba6d-3e05e953b2ea",
    "context": {"userId": "Practitioner/1", "patientId": "p1"},
    "prefetch": {"patient": {"resourceType": "Patient", "id": "p1"}, "conditions": None, "wounds": None}}

__all__ = ["ANSWERED"]  # each line below adds to it

LOGIN, FORBIDDEN = (401, "login"), (403, "forbidden")


@pytest.fixture(scope="module")
def issuer() -> Iterator[Issuer]:
    with run_issuer() as running:
        yield running


def settings_for(issuer: Issuer, **more: Any) -> Settings:
    return Settings(**{
        "public_base": PUBLIC_BASE, "access_token_issuers": issuer.trusted, "hook_clients": issuer.trusted,
        "token_endpoint": f"{issuer.address}/token", "database": "memory"} | more)


@pytest.fixture(scope="module")
def http(issuer) -> Iterator[httpx.Client]:
    with serve(settings_for(issuer)) as address, httpx.Client(base_url=address, timeout=60, trust_env=False) as client:
        yield client


@pytest.fixture
def plan(http, caplog):
    """Asks for a plan under a token and checks what holds of every answer."""
    def ask(token: str | None = None, body: bytes = RECORD, **headers: str) -> httpx.Response:
        shown = {} if token is None else bearer(token)
        with caplog.at_level(logging.DEBUG, "graftstage"):
            answer = http.post(PLAN, content=body, headers=FHIR | shown | headers)
        if token:
            for part in token.split("."):
                assert len(part) < 8 or part not in answer.text + caplog.text + str(answer.headers)
        return answer
    return ask


@pytest.fixture
def call_hook(http):
    def ask(token: str, path: str = HOOK) -> httpx.Response:
        return http.post(path, json=CARDLESS, headers=bearer(token))
    return ask


@pytest.fixture
def no_network(monkeypatch):
    """The service calls nobody: a try would be a 500."""
    def refuse() -> None:
        raise AssertionError("a call to the outside")

    monkeypatch.setattr("service.tokens.key_cache.make_client", refuse)
    monkeypatch.setattr("service.ehr_client.fetch.make_client", refuse)


@pytest.fixture
def empty_postgresql(postgresql_url) -> str:
    with psycopg.connect(postgresql_url, autocommit=True) as connection:
        connection.execute("CREATE DATABASE used_tokens")
    return postgresql_url.replace("/postgres?", "/used_tokens?")


def refused(answer: httpx.Response, reason: str, caplog) -> None:
    """The answer says that the token is not accepted and no more; the log says why."""
    assert answer.status_code == 401
    assert said(answer.json()) == ("login", "token-refused")
    assert answer.headers["www-authenticate"] == 'Bearer realm="graftstage", error="invalid_token"'
    assert f"token refused: {reason}" in caplog.text


def test_a_good_token_of_each_algorithm_opens_the_operation(issuer, plan):
    for key in ("es-1", "rs-1"):
        assert plan(issuer.sign(issuer.access_claims(), key=key)).status_code == 200


def test_a_good_token_of_each_algorithm_opens_the_hook(issuer, call_hook):
    for key in ("es-1", "rs-1"):
        answer = call_hook(issuer.sign(issuer.hook_claims(HOOK), key=key))
        assert (answer.status_code, answer.json()) == (200, {"cards": []})


@line(129, LOGIN)
def test_no_token(plan):
    answer = plan()
    assert answer.status_code == 401
    assert said(answer.json()) == ("login", "token-missing")
    assert answer.headers["www-authenticate"] == 'Bearer realm="graftstage"'


@pytest.mark.parametrize("header", ["", "Basic cGxhbm5lcjo=", "Bearer", "Bearer a b", "Bearer \u00e4", "a.b.c"])
def test_what_is_no_bearer_token(plan, caplog, header):
    refused(plan(Authorization=header.encode("latin-1")), "no bearer token", caplog)


def test_two_tokens_are_none(issuer, http, caplog):
    token = ("Authorization", f"Bearer {issuer.sign(issuer.access_claims())}")
    refused(http.post(PLAN, content=RECORD, headers=[*FHIR.items(), token, token]), "no bearer token", caplog)


HEADERS = [
    (130, {"alg": "none"}, "algorithm"),
    (131, {"alg": "HS256"}, "algorithm"),
    (132, {"key": "p256-1"}, "algorithm"),
    (140, {"kid": "../../../../dev/null"}, "no-key"),
    (140, {"kid": "' OR 1=1 --"}, "no-key"),
    (140, {"kid": "x" * 300}, "key-id"),
    (140, {"kid": None}, "key-id"),
    (140, {"kid": 7}, "key-id"),
    (140, {"kid": "rs-1"}, "no-key"),
    (143, {"b64": False, "crit": ["b64"]}, "header"),
    (143, {"crit": ["exp"], "exp": 1}, "header"),
    (143, {"jwk": {"kty": "EC"}}, "header"),
    (143, {"x5u": "https://keys.example/c"}, "header"),
]


@line(130, LOGIN)
@line(131, LOGIN)
@line(132, LOGIN)
@line(140, LOGIN)
@line(143, LOGIN)
@pytest.mark.parametrize(("number", "header", "reason"), HEADERS)
def test_a_header_that_is_not_accepted(issuer, plan, caplog, number, header, reason):
    refused(plan(issuer.sign(issuer.access_claims(), **header)), reason, caplog)


CLAIMS = [
    (133, {"exp": -SKEW_SECONDS - 1, "iat": -600}, "expired"),
    (134, {"exp": 10 * 365 * 86_400}, "lifetime"),
    (135, {"iat": SKEW_SECONDS + 30, "exp": 600}, "times"),
    (135, {"nbf": SKEW_SECONDS + 30}, "times"),
]


@line(133, LOGIN)
@line(134, LOGIN)
@line(135, LOGIN)
@pytest.mark.parametrize(("number", "seconds_from_now", "reason"), CLAIMS)
def test_a_token_out_of_its_time(issuer, plan, caplog, number, seconds_from_now, reason):
    moments = {name: int(time()) + seconds for name, seconds in seconds_from_now.items()}
    refused(plan(issuer.sign(issuer.access_claims(**moments))), reason, caplog)


@pytest.mark.parametrize("moments", [
    {"exp": -SKEW_SECONDS + 10, "iat": -300}, {"iat": SKEW_SECONDS - 10}, {"nbf": SKEW_SECONDS - 10}])
def test_clocks_may_differ_a_little(issuer, plan, moments):
    claims = issuer.access_claims(**{name: int(time()) + seconds for name, seconds in moments.items()})
    assert plan(issuer.sign(claims)).status_code == 200


@line(136, LOGIN)
@pytest.mark.parametrize("audience", [
    f"{HOOK}/feedback", "/cds-services", "/cds-services/another", "", "/fhir"])
def test_a_token_for_another_address(issuer, call_hook, caplog, audience):
    refused(call_hook(issuer.sign(issuer.hook_claims(audience))), "audience", caplog)


@pytest.mark.parametrize("audience", [
    f"{PUBLIC_BASE}/fhir/", f"{PUBLIC_BASE}/FHIR", f"{PUBLIC_BASE}{PLAN}", PUBLIC_BASE, "http://127.0.0.1:8000/fhir",
    [], ["https://other.example/fhir"], 7, {}])
def test_an_access_token_for_another_address(issuer, plan, caplog, audience):
    answer = plan(issuer.sign(issuer.access_claims(aud=audience)))
    assert said(answer.json()) == ("login", "token-refused")
    assert "token refused: audience" in caplog.text or "token refused: claim-missing" in caplog.text


def test_an_audience_may_be_one_of_several(issuer, plan):
    audiences = ["https://other.example", f"{PUBLIC_BASE}/fhir"]
    assert plan(issuer.sign(issuer.access_claims(aud=audiences))).status_code == 200


@line(137, LOGIN)
@pytest.mark.parametrize("stranger", ["https://planted-stranger.example", "", 7, None])
def test_an_unknown_issuer_is_refused_without_a_call(issuer, plan, caplog, no_network, stranger):
    refused(plan(issuer.sign(issuer.access_claims(iss=stranger))), "issuer", caplog)
    assert "stranger" not in caplog.text


@line(138, LOGIN)
@pytest.mark.parametrize("address", ["https://keys.example/jwks", "http://169.254.169.254/jwks"])
def test_a_key_address_that_is_not_listed_is_refused_without_a_call(issuer, plan, caplog, no_network, address):
    refused(plan(issuer.sign(issuer.access_claims(), jku=address)), "key-address", caplog)


def test_a_key_address_that_is_listed_is_read(issuer, plan):
    assert plan(issuer.sign(issuer.access_claims(), jku=f"{issuer.address}/jwks")).status_code == 200


@line(139, LOGIN)
def test_a_key_address_that_redirects_is_not_followed(issuer, caplog):
    redirected = f"{issuer.address}={issuer.address}/redirected"
    with serve(settings_for(issuer, access_token_issuers=redirected)) as address:
        token = issuer.sign(issuer.access_claims(), jku=f"{issuer.address}/redirected")
        answer = httpx.post(f"{address}{PLAN}", content=RECORD, headers=FHIR | bearer(token), trust_env=False)
    refused(answer, "no-key", caplog)
    assert "answered with status 302" in caplog.text


@line(141, LOGIN)
def test_a_token_of_a_hook_works_once(issuer, call_hook, caplog):
    token = issuer.sign(issuer.hook_claims(HOOK))
    assert call_hook(token).status_code == 200
    refused(call_hook(token), "used-before", caplog)
    same_id = issuer.hook_claims(HOOK, jti=issuer.hook_claims(HOOK)["jti"])
    assert call_hook(issuer.sign(same_id)).status_code == 200
    refused(call_hook(issuer.sign(same_id | {"exp": same_id["exp"] - 1})), "used-before", caplog)


@line(141, LOGIN)
@pytest.mark.parametrize("database", ["file", "server"])
def test_a_token_of_a_hook_works_once_for_all_workers(issuer, tmp_path, caplog, request, database):
    shared = str(tmp_path / "shared.sqlite") if database == "file" else request.getfixturevalue("empty_postgresql")
    settings, token = settings_for(issuer, database=shared), issuer.sign(issuer.hook_claims(HOOK))
    with serve(settings) as first, serve(settings) as second:
        answers = [httpx.post(f"{address}{HOOK}", json=CARDLESS, headers=bearer(token), trust_env=False)
                   for address in (first, second)]
    assert answers[0].status_code == 200
    refused(answers[1], "used-before", caplog)


def test_a_token_that_was_refused_is_not_used_up(issuer, call_hook, caplog):
    token = issuer.sign(issuer.hook_claims(HOOK))
    refused(call_hook(token, f"{HOOK}/feedback"), "audience", caplog)
    refused(call_hook(f"{token[:-8]}AAAAAAAA"), "signature", caplog)
    assert call_hook(token).status_code == 200


@line(142, (401, "login"), (431, "too-long"))
def test_a_token_too_long_is_thrown_away_unread(issuer, plan, caplog):
    for size in (20_000, 65_536, 100_000):
        answer = plan("a" * size)
        assert (answer.status_code, *said(answer.json())) == (431, "too-long", "headers-too-large")
    refused(plan(issuer.sign(issuer.access_claims(more="x" * 8_000))), "too-long", caplog)


@line(144, FORBIDDEN)
@pytest.mark.parametrize("scope", [None, "", "openid", "system/Observation.rs", "system/*.write", "system/*.r",
                                   "system/Patient.rs system/Condition.rs system/Observation.rs?code=a"])
def test_a_token_that_allows_too_little(issuer, plan, scope):
    answer = plan(issuer.sign(issuer.access_claims(scope=scope)))
    assert answer.status_code == 403
    assert said(answer.json()) == ("forbidden", "scope-insufficient")
    assert 'error="insufficient_scope", scope="system/Patient.rs ' in answer.headers["www-authenticate"]


@pytest.mark.parametrize("scope", [
    "system/*.rs", "system/*.read", "system/*.cruds", "system/*.*",
    "system/Patient.read system/Condition.rs system/Observation.rs system/Procedure.* system/AllergyIntolerance.rs"])
def test_scopes_of_both_versions_open(issuer, plan, scope):
    assert plan(issuer.sign(issuer.access_claims(scope=scope))).status_code == 200


@line(145, FORBIDDEN)
@pytest.mark.parametrize("path", [PLAN, "/fhir/$read-burn-record"])
@pytest.mark.parametrize("scope", ["patient/*.rs", "system/*.rs"])
def test_a_record_of_another_patient_than_the_token(issuer, http, caplog, path, scope):
    def ask(patient_id: str) -> httpx.Response:
        token = issuer.sign(issuer.access_claims(scope=scope, patient=patient_id))
        return http.post(path, content=RECORD, headers=FHIR | bearer(token))

    answer = ask("planted-other")
    assert answer.status_code == 403
    assert said(answer.json()) == ("forbidden", "patient-not-of-token")
    assert PATIENT_ID not in answer.text and "planted" not in caplog.text
    assert ask(PATIENT_ID).status_code == 200


def test_a_patient_without_an_id_is_not_the_one_of_the_token(issuer, plan):
    patient = make.patient()
    del patient["id"]
    body = make.body_of(make.parameters(make.bundle(patient)))
    answer = plan(issuer.sign(issuer.access_claims(patient=PATIENT_ID)), body)
    assert (answer.status_code, *said(answer.json())) == (403, "forbidden", "patient-not-of-token")


@line(146, FORBIDDEN)
@pytest.mark.parametrize("claims", [
    {"scope": "patient/*.rs"}, {"scope": "user/*.rs"}, {"scope": "patient/*.rs", "fhirUser": "Practitioner/1"},
    {"scope": "patient/*.rs", "patient": ""}, {"scope": "system/*.rs", "patient": ["a"]},
    {"scope": "system/*.rs", "patient": 7}])
def test_a_scope_without_its_context(issuer, plan, claims):
    answer = plan(issuer.sign(issuer.access_claims(**claims)))
    assert answer.status_code == 403
    assert said(answer.json()) == ("forbidden", "scope-insufficient")


@line(147, (400, "security"))
@pytest.mark.parametrize("server", [
    "http://record.example/fhir", "http://169.254.169.254/latest", "https://169.254.169.254/", "file:///etc/passwd",
    "https://u:p@record.example/fhir", "ftp://record.example", "https://[", "record.example"])
def test_a_record_address_that_nobody_should_call(issuer, http, no_network, server):
    token = issuer.sign(issuer.hook_claims(HOOK))
    answer = http.post(HOOK, json=CARDLESS | {"fhirServer": server}, headers=bearer(token))
    assert (answer.status_code, *said(answer.json())) == (400, "security", "hook-server-unsafe")
    assert "record.example" not in answer.text


@line(148, (200, ""))
def test_a_token_stands_in_no_log_line(issuer, plan, caplog):
    token = issuer.sign(issuer.access_claims(sub="planted-subject", client_id="planted-client"))
    assert plan(token).status_code == 200
    assert plan(f"{token[:-8]}AAAAAAAA").status_code == 401
    for trace in ("Authorization", "Bearer", "planted", token[:40], token.split(".")[1][:40], token[-40:-8]):
        assert trace not in caplog.text
