"""Every code that the service can say has words, and every word has a code."""

import ast
from pathlib import Path
from string import Formatter

import pytest

import service
from service.domain.body_region import Position
from service.domain.dressing import EventKind
from service.domain.finding import Finding, Severity
from service.domain.plan import GraftPlan, PlanOutcome, Reason, SettledPlan
from service.domain.rule import Rule
from service.domain.session import Session
from service.evidence.library import load_evidence
from service.wording.catalogue import TABLES, fill, load_table
from service.wording.findings import word_code, word_finding
from service.wording.reasons import word_held_back, word_reasons

SERVICE = Path(service.__file__).parent
EVIDENCE = load_evidence()


def plan_with(reason: Reason) -> GraftPlan:
    return GraftPlan(PlanOutcome.BEST_FOUND, SettledPlan(), reasons=(reason,))


def session_bound_by(*rules: str) -> Session:
    return Session(1, 1, (Position.SUPINE,), False, 60, 1100, 1, rules)


def _codes_said(name):
    """First arguments of calls ``name("code", ...)`` anywhere in the service."""
    for path in SERVICE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == name and node.args \
                    and isinstance(node.args[0], ast.Constant):
                yield node.args[0].value


def test_every_finding_that_is_said_has_a_row():
    said = set(_codes_said("Finding"))
    assert said
    assert said <= set(load_table("findings"))


def test_every_reason_that_is_said_has_words():
    for code in set(_codes_said("Reason")):
        assert word_reasons(plan_with(Reason(code)))


@pytest.mark.parametrize("code", sorted(load_table("findings")))
def test_finding_rows_are_complete(code):
    row = load_table("findings")[code]
    assert row["severity"] in set(Severity)
    assert row["title"]
    assert row["text"].endswith(".")
    assert row["mitigation"].endswith(".")
    for row_id in row["evidence"].split():
        assert EVIDENCE.has(*row_id.split("/")), row_id
    worded = word_finding(Finding(code, Severity(row["severity"]), place="left-thigh-front", session=2))
    assert worded.detail.startswith("Session 2, left thigh, front: ")
    assert word_code(code)


@pytest.mark.parametrize("rule", list(Rule))
def test_every_rule_can_hold_a_session_back(rule):
    (sentence,) = word_held_back(session_bound_by(rule))
    assert sentence.startswith("Held back by ") and sentence.endswith(".")


def test_rules_that_held_a_session_back_together_are_one_sentence():
    assert word_held_back(session_bound_by(Rule.SESSION_BLOOD, Rule.REST_BETWEEN_SESSIONS)) == [
        "Held back by the blood loss that one session may cause (here 1,100 mL); the rest between sessions."]
    assert word_held_back(session_bound_by()) == []


def test_an_unknown_rule_is_refused():
    with pytest.raises(ValueError, match="no-such-rule"):
        word_held_back(session_bound_by("no-such-rule"))


def test_every_kind_of_event_has_words():
    assert set(load_table("events")) == set(EventKind)


def test_a_value_that_is_missing_is_said_to_be():
    assert fill("{units} units", {}) == "(not stated) units"


@pytest.mark.parametrize("path", sorted(TABLES.glob("*.csv")), ids=lambda path: path.stem)
def test_placeholders_are_plain_names(path):
    for row in load_table(path.stem).values():
        for text in row.values():
            assert all(field is None or field.isidentifier() for _, field, _, _ in Formatter().parse(text))
