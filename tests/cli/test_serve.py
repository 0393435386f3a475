"""``serve`` as a person starts and stops it."""

import re
import signal
import socket
import subprocess
import sys
from urllib.request import ProxyHandler, build_opener

import pytest

from service.cli.serve import _listen
from tests.conftest import FIRST_PLAN

START_SECONDS = 60


@pytest.fixture
def serve(monkeypatch):
    """Starts the service; ends what a test left running."""
    started = []

    def start(*options: str, port: int = 0) -> subprocess.Popen:
        monkeypatch.setenv("GRAFTSTAGE_PORT", str(port))
        process = subprocess.Popen(
            [sys.executable, "-m", "service.cli", "serve", *options],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True)
        started.append(process)
        return process

    yield start
    for process in started:
        process.kill()
        process.communicate()


def printed_until_ready(process: subprocess.Popen) -> list[str]:
    lines = []
    for line in process.stdout:
        lines.append(line)
        if line.startswith("Graftstage is ready"):
            return lines
    pytest.fail(f"not ready: {process.stderr.read()}")


def address_in(lines: list[str]) -> str:
    return re.search(r"http://\S+?(?=/ )", lines[-1]).group()


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_it_shows_a_plan_serves_on_and_ends_when_told(serve, how):
    process = serve("--show", str(FIRST_PLAN))
    lines = printed_until_ready(process)
    assert any("Session 1" in line for line in lines)
    get = build_opener(ProxyHandler({})).open
    assert get(f"{address_in(lines)}/readyz", timeout=10).status == 200
    process.send_signal(how)
    assert process.wait(timeout=START_SECONDS) == 0
    assert "Traceback" not in process.stderr.read()


@pytest.fixture
def taken_port():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


def test_a_taken_port_is_said_in_words(serve, taken_port):
    process = serve(port=taken_port)
    assert process.wait(timeout=START_SECONDS) == 2
    assert f"port {taken_port}" in process.stderr.read()


def test_a_free_port_is_used_when_asked_for(serve, taken_port):
    lines = printed_until_ready(serve("--or-free-port", port=taken_port))
    assert not address_in(lines).endswith(f":{taken_port}")


def test_a_sample_that_cannot_be_planned_ends_the_service(serve, tmp_path):
    broken = tmp_path / "broken.json"
    broken.write_text("{")
    process = serve("--show", str(broken))
    assert process.wait(timeout=START_SECONDS) == 5
    assert "not-json" in process.stderr.read()


def test_answers_do_not_wait_for_a_receipt():
    """The event loop sends at once only on sockets that state their protocol."""
    with _listen("127.0.0.1", 0, False) as listener:
        assert listener.proto == socket.IPPROTO_TCP
