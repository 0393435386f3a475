"""The request collection and the guide for integrators do what they say, step by step."""

import json
import re
from collections.abc import Iterator

import httpx2 as httpx
import pytest

from tests.api.http_files import WrittenRequest, read_collection, read_page
from tests.api.write_openapi import OPENAPI
from tests.conftest import SAMPLES
from tests.contract.validators import require_validators, run_store

COLLECTION = read_collection(OPENAPI / "requests.http")
GUIDE = OPENAPI / "GUIDE.md"
PAGE = read_page(GUIDE)
FHIR = {"Content-Type": "application/fhir+json"}
EARLIER = ("CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue")


def keeps_its_promise(request: WrittenRequest, answer: httpx.Response) -> bool:
    return (answer.status_code, _kind_of(answer)) == (request.status, request.answer)


def _kind_of(answer: httpx.Response) -> str:
    """Text, the type of a resource, or the one element of an answer to a hook."""
    if answer.headers["content-type"].startswith("text/"):
        return "text"
    sent = answer.json()
    return sent["resourceType"] if "resourceType" in sent else next(iter(sent))


@pytest.mark.parametrize("request_written", COLLECTION, ids=lambda one: one.title)
def test_a_request_of_the_collection_gets_what_it_promises(client, request_written):
    assert keeps_its_promise(request_written, request_written.send(client))


def test_the_collection_calls_every_operation_that_is_described(client):
    called = {request.path.split("?")[0] for request in COLLECTION}
    described = {path for path in client.get("/openapi.json").json()["paths"] if path.startswith("/fhir/$")}
    assert described and described <= called


@pytest.fixture(scope="module")
def steps(client) -> list[httpx.Response]:
    answers = [request.send(client) for request in PAGE]
    assert all(keeps_its_promise(*pair) for pair in zip(PAGE, answers, strict=True))
    return answers


def test_the_dry_run_says_that_the_weight_is_missing(steps):
    report = {p["name"]: p for p in steps[1].json()["parameter"]}
    assert report["can-plan"]["valueBoolean"] is False
    assert "weight" in json.dumps(report["missing"])


def test_the_plan_comes_first_and_for_reading(steps):
    first = steps[2].json()["entry"][0]["resource"]
    assert first["resourceType"] == "CarePlan" and "div" in first["text"]


def test_the_faults_come_at_once_with_place_and_remedy(steps):
    issues = steps[-1].json()["issue"]
    assert len(issues) > 1 and all(issue["expression"] and issue["diagnostics"] for issue in issues)


def test_an_opened_record_gets_one_card_and_no_second(client, steps):
    (card,) = steps[-2].json()["cards"]
    assert "harvest" in card["summary"]
    again = json.loads(PAGE[-2].body) | {"hookInstance": "00000000-0000-4000-8000-000000000001"}
    assert client.post(PAGE[-2].path, json=again).json() == {"cards": []}


@pytest.mark.parametrize(("name", "status", "told"), [
    ("nothing-due", 200, []), ("no-burn", 200, []), ("contradictory-record", 200, ["warning"]),
    ("prefetch-missing", 412, None)])
def test_the_other_calls_to_copy_get_what_the_guide_says(client, name, status, told):
    body = (SAMPLES / "cds-hooks" / f"{name}.json").read_bytes()
    answer = client.post(PAGE[-2].path, content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == status
    assert told is None or [card["indicator"] for card in answer.json()["cards"]] == told


def test_the_curl_of_the_guide_is_the_call_of_the_guide():
    assert f"http://127.0.0.1:8000{PAGE[-2].path}" in GUIDE.read_text()


@pytest.fixture(scope="module")
def record_server() -> Iterator[httpx.Client]:
    require_validators()
    with run_store() as address, httpx.Client(base_url=address, timeout=60, trust_env=False) as http:
        yield http


def held(server: httpx.Client) -> list[dict]:
    entries = [e for kind in EARLIER for e in server.get(f"/{kind}?_count=1000").json().get("entry", ())]
    return [{"fullUrl": f"https://record.example/fhir/{e['resource']['resourceType']}/{e['resource']['id']}",
             "resource": e["resource"]} for e in entries]


def test_the_drafts_land_and_a_plan_made_again_leaves_alone_what_was_accepted(client, record_server):
    """Steps 4 to 7: the parameter as the page has it, the session a day later, one Task accepted."""
    asked = json.loads(PAGE[2].body)
    asked["parameter"].append(json.loads(re.search(r"```json\n(.*?)```", GUIDE.read_text(), re.DOTALL)[1]))
    answer = client.post(PAGE[2].path, json=asked, headers=FHIR)
    posted = record_server.post("/", content=answer.content, headers=FHIR).json()
    assert {e["response"]["status"] for e in posted["entry"]} == {"201"}

    accepted = next(
        e["resource"] for e in held(record_server) if e["resource"]["resourceType"] == "Task"
        and e["resource"]["code"]["coding"][0]["code"] == "harvest-skin") | {"status": "accepted"}
    assert record_server.put(f"/Task/{accepted['id']}", json=accepted, headers=FHIR).status_code == 200

    first_day = next(p for p in asked["parameter"] if p["name"] == "theatre-day")
    asked["parameter"].remove(first_day)
    record = next(p for p in asked["parameter"] if p["name"] == "bundle")["resource"]
    record["entry"] += held(record_server)
    again = client.post(PAGE[2].path, json=asked, headers=FHIR)
    posted = record_server.post("/", content=again.content, headers=FHIR).json()
    assert {e["response"]["status"] for e in posted["entry"]} <= {"200", "201"}
    now = [e["resource"] for e in held(record_server)]
    assert next(r for r in now if r["id"] == accepted["id"])["status"] == "accepted"
    (issue,) = [r for r in now if r["resourceType"] == "DetectedIssue"
                and r["code"]["coding"][0]["code"] == "plan-changed-task-in-progress"]
    assert issue["implicated"] == [{"reference": f"Task/{accepted['id']}"}]
