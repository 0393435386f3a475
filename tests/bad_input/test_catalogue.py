"""Every line of the catalogue through a real server: status, error id, place, repair, and no value told on."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator

import pytest

from tests.bad_input.case import BadInput
from tests.bad_input.catalogue import CASES, LINES, read_catalogue
from tests.bad_input.test_tokens import ANSWERED

PLAN = "/fhir/$plan-grafts"
FHIR = {"Content-Type": "application/fhir+json"}


def issues_in(answer: dict) -> Iterator[dict]:
    """Issues of an OperationOutcome, alone or in the Bundle of an answer."""
    resources = [answer, *(entry["resource"] for entry in answer.get("entry", ()))]
    for resource in resources:
        if resource["resourceType"] == "OperationOutcome":
            yield from resource["issue"]


def told_in(answer: dict) -> set[tuple[str, str, str]]:
    """Error id, issue code and place of each issue; findings and missing data by their code alone."""
    told = {
        (issue["details"]["coding"][0]["code"], issue["code"], *issue.get("expression", [""]))
        for issue in issues_in(answer) if "coding" in issue["details"]}
    for entry in answer.get("entry", ()):
        resource = entry["resource"]
        if resource["resourceType"] == "DetectedIssue":
            told.add((resource["code"]["coding"][0]["code"], "", ""))
    return told


def missing_in(answer: dict) -> list[dict]:
    return [requirement for entry in answer.get("entry", ())
            for requirement in entry["resource"].get("dataRequirement", ())]


@pytest.fixture
def answer_to(client, caplog):
    """Posts a body and checks what holds of every answer."""
    def post(case: BadInput, accept: str = "application/fhir+json"):
        with caplog.at_level(logging.INFO, "graftstage"):
            answer = client.post(PLAN, content=case.body(), headers=FHIR | {"Accept": accept})
        assert answer.status_code == case.status
        for text in (answer.text, caplog.text):
            assert not case.planted or case.planted not in text
        return answer
    return post


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.line} {case.name}")
def test_a_line_of_the_catalogue(case: BadInput, answer_to):
    answer = answer_to(case).json()
    assert all(issue["diagnostics"] for issue in issues_in(answer) if "coding" in issue["details"])
    assert "(not stated)" not in json.dumps(answer)
    if case.told in ("patient", "birth-date", "weight"):
        assert missing_in(answer) and not any(e["resource"]["resourceType"] == "CarePlan" for e in answer["entry"])
    elif case.told:
        assert (case.told, case.issue_code, case.expression) in told_in(answer)
    if case.shown:
        assert case.shown in answer_to(case, "text/plain").text


def test_the_catalogue_is_whole():
    catalogue = read_catalogue()
    assert tuple(catalogue) == tuple(LINES)
    answered = [(case.line, case.status, case.issue_code or case.told) for case in CASES if case.line] + ANSWERED
    assert {line for line, _, _ in answered} == set(LINES)
    for line, row in catalogue.items():
        assert {str(status) for one, status, _ in answered if one == line} == set(row["statuses"].split()), line
        assert {told for one, _, told in answered if one == line} - {""} == set(row["told"].split()), line


def test_a_request_is_one_line_in_the_log(client, caplog):
    case = next(case for case in CASES if case.line == 42)
    with caplog.at_level(logging.INFO, "graftstage"):
        client.post(PLAN, content=case.body(), headers=FHIR)
        client.get("/livez")  # the line is written after the answer has left
    lines = [r.getMessage() for r in caplog.records if r.getMessage().startswith("POST")]
    assert len(lines) == 1 and "\n" not in lines[0]
