"""``graftstage sheet`` as it is used: files of each form, and what it refuses."""

import pytest

from tests.cli.test_commands import graftstage
from tests.conftest import FIRST_PLAN, SAMPLES

STARTS = {".pdf": b"%PDF-", ".html": b"<!doctype html>", ".svg": b"<svg"}


@pytest.mark.parametrize("form", STARTS)
def test_the_ending_decides_the_form(tmp_path, form):
    output = tmp_path / f"plan{form}"
    done = graftstage("sheet", str(FIRST_PLAN), "-o", str(output))
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
    assert output.read_bytes().startswith(STARTS[form])


def test_a_theatre_list_is_written_for_a_session_that_is_there(tmp_path):
    output = tmp_path / "list.html"
    assert graftstage("sheet", str(FIRST_PLAN), "--theatre-list", "1", "-o", str(output)).returncode == 0
    assert "Theatre list" in output.read_text()


@pytest.mark.parametrize("arguments, words", [
    (("-o", "plan.txt"), "ends in one of"),
    (("-o", "plan.html", "--language", "xx"), "language is one of"),
    (("-o", "plan.html", "--theatre-list", "99"), "no session 99"),
    (("-o", "plan.svg", "--theatre-list", "1"), ".pdf or .html"),
])
def test_what_cannot_be_written_is_refused_with_the_reason(tmp_path, arguments, words):
    done = graftstage("sheet", str(FIRST_PLAN), *(str(tmp_path / a) if a.startswith("plan.") else a for a in arguments))
    assert done.returncode == 2
    assert words in done.stderr.decode()
    assert not list(tmp_path.iterdir())


def test_without_a_plan_there_is_no_sheet_but_what_is_missing(tmp_path):
    done = graftstage("sheet", str(SAMPLES / "missing-weight.json"), "-o", str(tmp_path / "plan.pdf"))
    assert done.returncode == 3
    assert "weight" in done.stderr.decode().lower()
    assert not list(tmp_path.iterdir())
