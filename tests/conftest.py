"""What several groups of tests share: the samples, and one real service on loopback."""

from __future__ import annotations

import logging
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkdtemp
from threading import Thread
from time import sleep

import httpx2 as httpx
import pgserver
import pytest
import uvicorn
from hypothesis import settings as hypothesis_settings

from service.api import answers
from service.api.app import create_app
from service.api.http_protocol import OutcomeProtocol
from service.settings import Settings
from tests.privacy.watch import PrivacyWatch, planted_texts

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = ROOT / "shared" / "samples"
#: Samples that are refused: their answer is an OperationOutcome.
REFUSED_SAMPLES = ("contradictory-extent", "two-patients", "wrong-units")
#: All others, planned or asked about.
ANSWERED_SAMPLES = tuple(path for path in sorted(SAMPLES.glob("*.json")) if path.stem not in REFUSED_SAMPLES)
FIRST_PLAN = SAMPLES / "adult-60-percent-first-plan.json"

#: No test leaves anything in the account that runs it.
os.environ.setdefault("GRAFTSTAGE_DATABASE", "memory")

hypothesis_settings.register_profile("repeatable", derandomize=True, deadline=None)
hypothesis_settings.load_profile("repeatable")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--recreate-golden", action="store_true", help="write the golden outputs anew")


@pytest.fixture(scope="session", autouse=True)
def privacy_watch() -> Iterator[PrivacyWatch]:
    """Over the whole run: at its end no log line and no error has repeated what names a patient."""
    watch = PrivacyWatch(planted_texts(SAMPLES))
    logging.getLogger().addHandler(watch)
    logging.getLogger("graftstage").setLevel(logging.INFO)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(answers, "dump", watch.dump)
        yield watch
    logging.getLogger().removeHandler(watch)
    assert watch.told == []


@contextmanager
def serve(settings: Settings) -> Iterator[str]:
    """A real server on a free loopback port, for as long as the block runs; gives its address."""
    listener = socket.socket(proto=socket.IPPROTO_TCP)
    listener.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(
        create_app(settings), http=OutcomeProtocol, log_config=None, access_log=False))
    thread = Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the server ended while starting"
        sleep(0.02)
    yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    server.should_exit = True
    thread.join()


@pytest.fixture(scope="session")
def server_address() -> Iterator[str]:
    """The address of one server for the whole run."""
    with serve(Settings()) as address:
        yield address


@pytest.fixture(scope="session")
def client(server_address: str) -> Iterator[httpx.Client]:
    """A plain HTTP client of the real server."""
    with httpx.Client(base_url=server_address, timeout=60, trust_env=False) as http:
        yield http


@pytest.fixture(scope="session")
def postgresql_url() -> Iterator[str]:
    """A real PostgreSQL server for the whole run, on a socket; an empty database is made from it by each who asks."""
    server = pgserver.get_server(mkdtemp(prefix="graftstage-postgresql-"), cleanup_mode="delete")
    yield server.get_uri()
    server.cleanup()


@pytest.fixture(scope="session")
def first_plan_body() -> bytes:
    """The sample that the README plans."""
    return FIRST_PLAN.read_bytes()
