"""One service with a memory of its own for each test, and the record of an invented patient."""

import pytest
from starlette.testclient import TestClient

from service.api.app import create_app
from service.fhir.json_text import dump
from service.settings import Settings
from tests.builders import Resource, loaded
from tests.cds_hooks.hook_calls import PATH, hook_call
from tests.conftest import SAMPLES

JSON = {"Content-Type": "application/json"}


class Record:
    """A client in the record system: calls the service and reads the answer."""

    def __init__(self, settings: Settings) -> None:
        self.http = TestClient(create_app(settings))

    def post(self, call: Resource, path: str = PATH):
        return self.http.post(path, content=dump(call), headers=JSON)

    def cards(self, call: Resource, path: str = PATH) -> list[Resource]:
        answer = self.post(call, path)
        assert answer.status_code == 200, answer.text
        return answer.json()["cards"]


@pytest.fixture
def record():
    return Record(Settings(database="memory"))


def sample(name: str) -> Resource:
    return loaded((SAMPLES / f"{name}.json").read_bytes())


@pytest.fixture
def due_request() -> Resource:
    """A plan request on a day with a session on the next."""
    return sample("adult-60-percent-after-session-1")


@pytest.fixture
def due_call(due_request) -> Resource:
    return hook_call(due_request)
