"""Each explanation of a plan reaches the reader in every carrier that it has, with its figure and unit."""

import json
import re
from collections.abc import Callable, Iterable
from functools import lru_cache
from html import unescape

import pytest

from service.domain.answer import PlanAnswer
from service.domain.rule import Rule
from service.domain.session import Session
from service.settings import Settings
from service.wiring import PlanReply, answer_plan_request, build_parts
from service.wording.places import place_in_words
from service.wording.rounding import TENTH, need_cm2, number_in_words, round_need_up, round_supply_down
from tests.conftest import ROOT, SAMPLES
from tests.unit.fhir_out.bundles import resources

NARRATIVE, TEXT = "CarePlan narrative", "`--text`"
NOTES = {"CarePlan.note": "CarePlan", "Task.note": "Task", "ServiceRequest.note": "ServiceRequest"}
ISSUES = "DetectedIssue"
CARRIERS = (ISSUES, "Task.note", "ServiceRequest.note", NARRATIVE, "CarePlan.note", TEXT)


def decided(region: str, side: str, date: str) -> dict:
    """A decision to graft a region on a day."""
    return {"name": "fixed-decision", "part": [
        {"name": "act", "valueCode": "place"}, {"name": "region", "valueCode": region},
        {"name": "side", "valueCode": side}, {"name": "date", "valueDate": date}]}


ONE_DAY = {"name": "theatre-day", "part": [
    {"name": "date", "valueDate": "2026-03-10"}, {"name": "minutes", "valueInteger": 120}]}
#: What is asked, by name: a sample and what is added to it.
LARGE, SMALL, LARGEST = "large burn", "small burn", "largest burn"
TOO_FEW_DAYS, TOO_MANY_AT_ONCE, TOO_CLOSE = "one theatre day", "much on one day", "two days without rest"
ASKED = {
    LARGE: ("adult-60-percent-first-plan",),
    SMALL: ("infant-20-percent",),
    LARGEST: ("adult-85-percent",),
    TOO_FEW_DAYS: ("elderly-25-percent", ONE_DAY),
    TOO_MANY_AT_ONCE: ("child-3-years-45-percent", decided("thigh", "left", "2026-03-06"),
                       decided("thigh", "right", "2026-03-06")),
    TOO_CLOSE: ("elderly-25-percent", decided("lower-leg", "left", "2026-03-12"),
                decided("thigh", "left", "2026-03-13")),
}


@lru_cache
def reply_to(asked: str) -> PlanReply:
    sample, *added = ASKED[asked]
    request = json.loads((SAMPLES / f"{sample}.json").read_bytes())
    request["parameter"] += added
    return answer_plan_request(build_parts(Settings()), json.dumps(request).encode())


def carried(reply: PlanReply, carrier: str) -> str:
    """All that a carrier says, in one line."""
    if carrier == TEXT:
        told: Iterable[str] = [reply.text]
    elif carrier == NARRATIVE:
        told = [unescape(plan["text"]["div"]) for plan in resources(reply.resource, "CarePlan")]
    elif carrier == ISSUES:
        told = [issue["detail"] for issue in resources(reply.resource, ISSUES)]
    else:
        told = [note["text"] for one in resources(reply.resource, NOTES[carrier]) for note in one.get("note", ())]
    return re.sub(r"\s+", " ", " ".join(told))


def of_sessions(answer: PlanAnswer, is_near: bool) -> list[Session]:
    """Firm sessions; those that have their Tasks already where only these are near enough."""
    last = answer.case.request.task_days if is_near else answer.case.horizon_day
    return [session for session in answer.plan.settled.firm_sessions if session.day <= last]


def alternatives(answer: PlanAnswer, _: bool) -> list[str]:
    plan = answer.plan.beside.figures
    return [
        figure for other in answer.plan.beside.alternatives for figure in (
            f"{need_cm2(abs(other.figures.harvested_cm2 - plan.harvested_cm2))} less skin taken",
            f"{number_in_words(other.figures.objective_days - plan.objective_days, TENTH)} %TBSA-days worse")]


def rules(answer: PlanAnswer, is_near: bool) -> list[str]:
    return [f"blood loss that one session may cause (here {session.blood_loss_ml:,} mL)"
            for session in of_sessions(answer, is_near) if Rule.SESSION_BLOOD in session.binding_rules]


def next_methods(answer: PlanAnswer, is_near: bool) -> list[str]:
    near = {session.ordinal for session in of_sessions(answer, is_near)}
    return [
        f"{place_in_words(wound.place_key)} {number_in_words(skin)} cm², {abs(wound.days)} %TBSA-days"
        for change in answer.plan.method_changes if change.session in near for wound in change.wounds
        for skin in [round_need_up(wound.skin_cm2) if wound.skin_cm2 > 0 else round_supply_down(-wound.skin_cm2)]]


def prices(answer: PlanAnswer, is_near: bool) -> list[str]:
    near = {session.day for session in of_sessions(answer, is_near)}
    return [f"{place_in_words(price.site_id)} {price.days_per_100_cm2} %TBSA-days"
            for price in answer.plan.skin_prices if price.day in near]


def dearest(answer: PlanAnswer, _: bool) -> list[str]:
    return [f"about {max(price.days_per_100_cm2 for price in answer.plan.skin_prices)} %TBSA-days"]


def behind_open(answer: PlanAnswer, _: bool) -> list[str]:
    return [f"{need_cm2(answer.plan.settled.open_cm2)} stay open"]


def together_behind_open(answer: PlanAnswer, _: bool) -> list[str]:
    limits = answer.case.limits
    return [*behind_open(answer, _), f"(at most {number_in_words(round_supply_down(limits.blood_ml))} mL)",
            f"(at most {limits.procedure_minutes} min)"]


def open_anyway(answer: PlanAnswer, _: bool) -> list[str]:
    return [f"instead of {need_cm2(answer.plan.settled.open_cm2)}: "]


def behind_decisions(answer: PlanAnswer, _: bool) -> list[str]:
    return [f"the days of rest between sessions ({answer.case.limits.rest_days} d)"]


def sensitivity(answer: PlanAnswer, _: bool) -> list[str]:
    tried = answer.plan.beside.sensitivity
    return [f"{tried.tried_count} weights, each halved and doubled, against {tried.compared_count} other course"]


IN_SESSION = ("ServiceRequest.note", NARRATIVE, TEXT)
#: Explanation, as the developers' page names it: what is asked, its figures, and what carries it.
EXPLANATIONS: dict[str, list[tuple[str, Callable[[PlanAnswer, bool], list[str]], tuple[str, ...]]]] = {
    "Alternatives": [(LARGE, alternatives, (NARRATIVE, "CarePlan.note", TEXT))],
    "Rules that bound a session": [(LARGE, rules, (*IN_SESSION, "Task.note"))],
    "Next-best method of each wound": [
        (LARGE, next_methods, (*IN_SESSION, "Task.note")), (SMALL, next_methods, (*IN_SESSION, "Task.note"))],
    "Price of donor skin by site and session": [
        (SMALL, prices, (*IN_SESSION, "Task.note")), (LARGE, prices, IN_SESSION)],
    "Where donor skin is dearest": [(LARGE, dearest, ("CarePlan.note", TEXT))],
    "Limits behind what stays open": [
        (TOO_FEW_DAYS, behind_open, (ISSUES, NARRATIVE, TEXT)),
        (TOO_MANY_AT_ONCE, together_behind_open, (ISSUES, NARRATIVE, TEXT)),
        (LARGEST, open_anyway, (ISSUES, NARRATIVE, TEXT))],
    "Limits against a decision": [(TOO_CLOSE, behind_decisions, (ISSUES, TEXT))],
    "Sensitivity to preferences": [(LARGE, sensitivity, (NARRATIVE, "CarePlan.note", TEXT))],
}
ROWS = [(name, asked, figures, carrier) for name, cases in EXPLANATIONS.items()
        for asked, figures, carriers in cases for carrier in carriers]


@pytest.mark.parametrize(("name", "asked", "figures", "carrier"), ROWS)
def test_an_explanation_is_carried_with_its_figures(name, asked, figures, carrier):
    reply = reply_to(asked)
    expected = figures(reply.answer, carrier == "Task.note")
    assert expected, f"{name} does not exist here"
    said = carried(reply, carrier)
    assert [figure for figure in expected if figure not in said] == []


def test_the_developers_page_tells_which_carrier_holds_which():
    lines = (ROOT / "DEVELOPERS.md").read_text().splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("| Explanation |"))
    head = [cell.strip() for cell in lines[start].strip("|").split("|")]
    assert head[1:] == list(CARRIERS)
    told = {}
    for line in lines[start + 2:start + 2 + len(EXPLANATIONS)]:
        name, *cells = (cell.strip() for cell in line.strip().strip("|").split("|"))
        told[name] = {carrier for carrier, cell in zip(CARRIERS, cells, strict=True) if cell == "yes"}
    assert told == {name: {carrier for *_, carriers in cases for carrier in carriers}
                    for name, cases in EXPLANATIONS.items()}
