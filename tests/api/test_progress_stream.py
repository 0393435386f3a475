"""News of a plan line by line, then its page; what is refused before keeps its status, and nobody is waited for."""

import json
import re
from threading import Event

import httpx2 as httpx
import pytest

from service.api import workbench
from service.domain.errors import ServiceFault
from service.settings import Settings
from tests.conftest import SAMPLES, serve

NDJSON = "application/x-ndjson"
SAMPLE = "adult-60-percent-after-session-2-poor-take"


@pytest.fixture(scope="module")
def database(tmp_path_factory):
    return str(tmp_path_factory.mktemp("progress") / "graftstage.sqlite")


@pytest.fixture(scope="module")
def http(database):
    with serve(Settings(database=database, concurrent_plans=1, languages=("de",))) as address, \
            httpx.Client(base_url=address, timeout=60, trust_env=False) as client:
        yield client


def form_of(http, sample=SAMPLE, **over) -> dict:
    """The fields of a form as a page sends them."""
    body = (SAMPLES / f"{sample}.json").read_bytes()
    page = http.post("/workbench/read", files={"file": (f"{sample}.json", body)}).text
    fields = {name: re.search(rf'name="{name}" value="([^"]*)"', page)[1] for name in ("record", "as-of")} | over
    return {name: (None, value) for name, value in fields.items()}


def stream(http, form, language="en"):
    return http.stream("POST", f"/workbench/plan?language={language}", files=form, headers={"Accept": NDJSON})


def lines_of(http, form, language="en") -> list[dict]:
    with stream(http, form, language) as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"] == NDJSON
        assert answer.headers["cache-control"] == "no-store"
        return [json.loads(line) for line in answer.iter_lines()]


def test_the_gap_shrinks_or_stays_and_the_page_comes_last(http):
    form = form_of(http)
    *news, last = lines_of(http, form)
    gaps = [told["gap"] for told in news if told["gap"] is not None]
    assert gaps and gaps == sorted(gaps, reverse=True)
    assert all(told["step"] and told["best"].startswith("best so far") for told in news)
    assert last == {"status": 200, "page": http.post("/workbench/plan", files=form).text}
    assert 'id="plan"' in last["page"]


def test_news_speak_the_language_of_the_page(http):
    told = lines_of(http, form_of(http), "de")[-2]
    assert told["best"].startswith("bisher bester Plan") and re.search(r"\d,\d %", told["best"])


def test_what_cannot_be_planned_keeps_its_status(http):
    with stream(http, form_of(http, **{"as-of": "yesterday"})) as answer:
        assert answer.status_code == 422
        assert answer.headers["content-type"].startswith("text/html")
        assert 'id="problem"' in answer.read().decode()


def test_a_press_reads_once_for_each_plan_and_leaves_one_row_for_each(http, new_rows):
    form = form_of(http)
    record = form["record"]
    before = len(new_rows())
    http.post("/workbench/plan", files=form)
    assert [row.operation for row in new_rows()[before:]] == ["workbench-plan"]
    http.post("/workbench/plan", files=form | {"before": record})
    assert [row.outcome == "read" for row in new_rows()[before:]] == [False] * 3


def test_a_plan_that_is_refused_after_its_first_news_leaves_its_row(http, new_rows, monkeypatch):
    def fail(*_, **named):
        real(*_, **named)
        raise ServiceFault("refused by verification")

    form, real = form_of(http), workbench.answer_plan_request
    before = len(new_rows())
    monkeypatch.setattr(workbench, "answer_plan_request", fail)
    last = lines_of(http, form)[-1]
    assert last["status"] == 503 and "no plan was made" in last["page"]
    assert [row.outcome for row in new_rows()[before:]][-1] == "refused-503"


def test_who_leaves_is_not_waited_for_and_keeps_no_place(http, monkeypatch):
    """One plan runs at a time here: a place that was not given back would turn the next one away."""
    left, ended = Event(), Event()
    real = workbench.make_result

    def wait_until_left(*arguments):
        left.wait(30)
        ended.set()
        return real(*arguments)

    form = form_of(http)
    monkeypatch.setattr(workbench, "make_result", wait_until_left)
    with httpx.Client(base_url=http.base_url, timeout=60, trust_env=False) as other, stream(other, form) as answer:
        assert json.loads(next(answer.iter_lines()))["step"]
    left.set()
    assert ended.wait(30)
    monkeypatch.setattr(workbench, "make_result", real)
    assert lines_of(http, form)[-1]["status"] == 200
