"""A command that takes long says so on a terminal, and on nothing else."""

import os
import pty
import subprocess
import sys
from io import StringIO

import pytest

from service.cli.progress import told_while
from tests.conftest import FIRST_PLAN

#: Holds the command back, so that it is long on any machine.
SLOWLY = """
import sys, time
import service.plan_grafting as planning
real = planning.schedule_care
planning.schedule_care = lambda *a: (time.sleep(2), real(*a))[1]
from service.cli.main import main
sys.exit(main(sys.argv[1:]))
"""


def run_on_terminal(*arguments: str, columns: int = 80) -> tuple[str, bytes]:
    """What a terminal shows of standard error, and standard output."""
    ours, theirs = pty.openpty()
    command = subprocess.Popen(
        [sys.executable, "-c", SLOWLY, *arguments], stdout=subprocess.PIPE, stderr=theirs,
        env=os.environ | {"COLUMNS": str(columns)})
    os.close(theirs)
    shown = b""
    try:
        while part := os.read(ours, 4096):
            shown += part
    except OSError:  # how a terminal ends
        pass
    os.close(ours)
    printed = command.communicate(timeout=60)[0]
    assert command.returncode == 0
    return shown.decode(), printed


def screen(shown: str) -> str:
    """The line as it stands at the end: each part is written over the one before."""
    line = ""
    for part in shown.split("\r"):
        line = part + line[len(part):]
    return line.strip()


@pytest.fixture(scope="module")
def planned() -> tuple[str, bytes]:
    return run_on_terminal("plan", str(FIRST_PLAN), "--summary")


def test_the_step_and_the_gap_are_told_and_erased_at_the_end(planned):
    shown, _ = planned
    assert "gap at most" in shown and "best so far" in shown and " s, " in shown
    assert screen(shown) == ""
    assert "\x1b" not in shown and "\n" not in shown


def test_no_line_is_wider_than_the_terminal():
    shown, _ = run_on_terminal("plan", str(FIRST_PLAN), "--summary", columns=40)
    assert {len(part) for part in shown.split("\r") if part} == {39}


def test_what_is_printed_is_the_same_as_without_a_terminal(planned):
    piped = subprocess.run(
        [sys.executable, "-c", SLOWLY, "plan", str(FIRST_PLAN), "--summary"], capture_output=True, timeout=60)
    assert piped.stderr == b""

    def without_seconds(printed: bytes) -> list[bytes]:
        return [part for part in printed.split(b",") if b'"seconds"' not in part]

    assert without_seconds(piped.stdout) == without_seconds(planned[1])


def test_a_sheet_tells_too(tmp_path):
    assert "best so far" in run_on_terminal("sheet", str(FIRST_PLAN), "-o", str(tmp_path / "x.svg"))[0]


def test_what_is_short_tells_nothing(monkeypatch):
    terminal = StringIO()
    terminal.isatty = lambda: True
    monkeypatch.setattr(sys, "stderr", terminal)
    with told_while("Planning"):
        pass
    assert terminal.getvalue() == ""
