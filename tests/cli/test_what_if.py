"""``--what-if`` as it is typed."""

import json

import pytest

from service.cli.what_if import read_condition
from tests.cli.test_commands import graftstage
from tests.conftest import FIRST_PLAN, SAMPLES


@pytest.mark.parametrize(("typed", "part"), [
    ("exclude-site=scalp", {"name": "exclude-site", "part": [{"name": "region", "valueCode": "scalp"}]}),
    ("free-site=left-upper-arm-back", {"name": "free-site", "part": [
        {"name": "region", "valueCode": "upper-arm"}, {"name": "side", "valueCode": "left"},
        {"name": "surface", "valueCode": "back"}]}),
    ("exclude-site=posterior-trunk", {"name": "exclude-site", "part": [
        {"name": "region", "valueCode": "posterior-trunk"}]}),
    ("drop-day=2026-03-05", {"name": "drop-day", "valueDate": "2026-03-05"}),
    ("transfusion-units=4", {"name": "transfusion-units", "valueInteger": 4}),
    ("ratio-unavailable=1-1.5", {"name": "ratio-unavailable", "valueCode": "1-1.5"}),
    ("fixed-decision=place,left-hand,sheet,2026-03-10", {"name": "fixed-decision", "part": [
        {"name": "act", "valueCode": "place"}, {"name": "region", "valueCode": "hand"},
        {"name": "side", "valueCode": "left"}, {"name": "method", "valueCode": "sheet"},
        {"name": "date", "valueDate": "2026-03-10"}]}),
])
def test_a_condition_is_a_part_of_the_operation(typed, part):
    assert read_condition(typed) == part


def test_the_option_gives_what_the_parameter_gives():
    asked = graftstage("plan", str(SAMPLES / "what-if.json"), "--summary")
    typed = graftstage("plan", str(SAMPLES / "fixed-decisions.json"), "--summary",
                       "--what-if", "exclude-site=left-lower-leg-back", "--what-if", "drop-day=2026-03-17")
    assert json.loads(typed.stdout)["what_if"] == json.loads(asked.stdout)["what_if"]


@pytest.mark.parametrize("typed", ["drop-day", "close=theatre", "transfusion-units=1.5", "cover-stock=much"])
def test_what_is_no_condition_is_wrong_usage(typed):
    ended = graftstage("plan", str(FIRST_PLAN), "--what-if", typed)
    assert (ended.returncode, ended.stdout) == (2, b"")


@pytest.mark.parametrize(("typed", "error"), [
    (["exclude-site=left-elbow"], "parameter-code"),
    (["exclude-site=scalp", "free-site=scalp"], "what-if-contradicts"),
    (["cover-stock=3000"], "what-if-changes-nothing"),
])
def test_what_does_not_fit_the_request_is_refused(typed, error):
    ended = graftstage("plan", str(FIRST_PLAN), *(f"--what-if={one}" for one in typed))
    assert ended.returncode == 4
    assert error in ended.stderr.decode()
