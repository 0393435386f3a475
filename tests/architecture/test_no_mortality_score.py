"""No score of mortality or futility anywhere: not computed, not coded, not said."""

import json
import re

import pytest

from tests.conftest import ANSWERED_SAMPLES, ROOT
from tests.planned_samples import reply_to

SCORE = re.compile(
    r"mortal|futil|baux|\babsi\b|prognos|fatality|\bdeaths?\b|\blethal"
    r"|survival[ -](score|rate|chance|probability)|(chance|rate|probability) of (survival|dying)", re.IGNORECASE)
WRITTEN = sorted(
    path for folder in ("service", "shared", "openapi") for path in (ROOT / folder).rglob("*")
    if path.suffix in (".py", ".csv", ".json", ".md", ".html"))


def test_no_code_table_or_published_resource_names_one():
    assert len(WRITTEN) > 100
    found = [str(path) for path in WRITTEN if SCORE.search(path.read_text(encoding="utf-8")) or SCORE.search(path.name)]
    assert found == []


@pytest.mark.parametrize("sample", ANSWERED_SAMPLES, ids=lambda path: path.stem)
def test_no_answer_says_one(sample):
    made = reply_to(sample.stem)
    said = json.dumps(made.resource, default=str) + made.text + json.dumps(made.summary, default=str)
    assert len(said) > 500
    assert not SCORE.search(said)


@pytest.mark.parametrize("text", [
    "30 % mortality", "revised Baux 117", "ABSI 14", "probability of death", "futile", "survival rate"])
def test_the_search_would_find_one(text):
    assert SCORE.search(text)
