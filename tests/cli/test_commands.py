"""The command line as it is used: real processes, real files, exit codes as documented."""

import json
import subprocess
import sys

import pytest

from tests.conftest import ANSWERED_SAMPLES, FIRST_PLAN, REFUSED_SAMPLES, SAMPLES

SUMMARY_KEYS = {
    "plan_id", "outcome", "sessions", "closure_day", "harvest_cm2_per_session", "open_percent_tbsa_at_horizon", "gap",
    "seconds", "finding_codes",
}


def graftstage(*arguments: str, stdin: bytes | None = None) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "service.cli", *arguments], input=stdin, capture_output=True, timeout=120)


@pytest.fixture(scope="module")
def planned() -> subprocess.CompletedProcess:
    return graftstage("plan", str(FIRST_PLAN))


def test_plan_prints_the_answer_bundle_and_nothing_else(planned):
    assert planned.returncode == 0
    assert planned.stderr == b""
    assert json.loads(planned.stdout)["entry"][0]["resource"]["resourceType"] == "CarePlan"


def test_service_and_command_line_give_the_same_answer(planned, client):
    answer = client.post(
        "/fhir/$plan-grafts", content=FIRST_PLAN.read_bytes(), headers={"Content-Type": "application/fhir+json"})
    assert answer.json() == json.loads(planned.stdout)


def test_standard_input_is_read(planned):
    assert graftstage("plan", "-", stdin=FIRST_PLAN.read_bytes()).stdout == planned.stdout


def test_text_fits_a_terminal():
    text = graftstage("plan", str(FIRST_PLAN), "--text").stdout.decode()
    assert "Session 1" in text
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("sample", ANSWERED_SAMPLES, ids=lambda path: path.stem)
def test_summary_is_one_json_object(sample):
    ended = graftstage("plan", str(sample), "--summary", "--seconds", "0.5")
    summary = json.loads(ended.stdout)
    if sample.stem == "missing-weight":
        assert ended.returncode == 3
        assert summary["missing"] == ["weight"]
    else:
        assert ended.returncode == 0
        assert set(summary) == SUMMARY_KEYS | ({"what_if"} if sample.stem == "what-if" else set())
        assert len(summary["harvest_cm2_per_session"]) == summary["sessions"]
        assert (summary["outcome"] == "no_plan") is (summary["sessions"] == 0) is (sample.stem == "comfort-care")


def test_missing_data_are_named_for_a_person():
    ended = graftstage("plan", str(SAMPLES / "missing-weight.json"), "--text")
    assert ended.returncode == 3
    assert "weight" in ended.stdout.decode()


def test_read_reports_and_never_plans():
    ended = graftstage("read", str(SAMPLES / "missing-weight.json"))
    assert ended.returncode == 0
    names = [p["name"] for p in json.loads(ended.stdout)["parameter"]]
    assert {"can-plan", "understood", "missing"} <= set(names)


def test_read_speaks_to_a_person_too():
    text = graftstage("read", str(SAMPLES / "missing-weight.json"), "--text").stdout.decode()
    assert "weight" in text and "{" not in text


def test_faults_are_plain_sentences_with_place_and_repair():
    body = FIRST_PLAN.read_bytes().replace(b'"kg"', b'"stone"')
    ended = graftstage("plan", "-", stdin=body)
    assert ended.returncode == 4
    assert ended.stdout == b""
    line = next(x for x in ended.stderr.decode().splitlines() if x.endswith("[unit-unknown]"))
    assert ": The unit is not one of those read here. Use one of: " in line


@pytest.mark.parametrize("sample", REFUSED_SAMPLES)
def test_plan_and_read_tell_the_same_faults(sample):
    path = str(SAMPLES / f"{sample}.json")
    refused, read = graftstage("plan", path), graftstage("read", path, "--text")
    assert (refused.returncode, read.returncode) == (4, 0)
    report = " ".join(read.stdout.decode().split())
    faults = refused.stderr.decode().splitlines()
    assert len(faults) > 1
    assert [fault for fault in faults if fault not in report] == []


@pytest.mark.parametrize(("arguments", "code"), [
    ((), 2), (("plan",), 2), (("plan", "no-such-file.json"), 2), (("plan", "-", "--as-of", "2026-03-02"), 2),
    (("plan", "-", "--seconds", "0"), 2), (("plan", "-", "--text", "--summary"), 2), (("fly",), 2),
    (("plan", "-"), 4), (("read", "-"), 4), (("evidence", "check"), 0), (("--version",), 0),
])
def test_exit_codes(arguments, code):
    ended = graftstage(*arguments, stdin=b"")
    assert ended.returncode == code
    assert b"Traceback" not in ended.stderr


def test_as_of_serves_a_request_that_states_none(client):
    bundle = next(
        p["resource"] for p in json.loads(FIRST_PLAN.read_bytes())["parameter"] if p["name"] == "bundle")
    ended = graftstage("plan", "-", "--as-of", "2026-03-05T08:00:00Z", stdin=json.dumps(bundle).encode())
    assert json.loads(ended.stdout)["timestamp"].startswith("2026-03-05T08:00:00")


def test_as_of_comes_before_the_one_in_the_request():
    ended = graftstage("plan", str(FIRST_PLAN), "--as-of", "2026-03-05T08:00:00Z")
    assert json.loads(ended.stdout)["timestamp"].startswith("2026-03-05T09:00:00+01:00")


def test_an_unknown_setting_is_a_usage_error(monkeypatch):
    monkeypatch.setenv("GRAFTSTAGE_COLOUR", "blue")
    ended = graftstage("plan", str(FIRST_PLAN))
    assert ended.returncode == 2
    assert b"GRAFTSTAGE_COLOUR" in ended.stderr


def test_a_reader_that_stops_early_is_no_error():
    command = f"{sys.executable} -m service.cli evidence list | head -n 1"
    ended = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, timeout=60)
    assert ended.stderr == b""


def test_evidence_lists_each_number_with_its_source():
    lines = graftstage("evidence", "list").stdout.decode().splitlines()
    assert any(line.startswith("take/island\t") for line in lines)
    assert all(len(line.split("\t")) == 3 and line.split("\t")[2] for line in lines)
