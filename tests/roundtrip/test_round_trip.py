"""Plan, do the session, record it in FHIR, plan again: nothing is done twice and the areas balance."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

import pytest

from service.assessment.wounds import extent_percent_tbsa
from service.domain.body_region import Place
from service.domain.burn_wound import NEEDS_GRAFT, Depth
from service.domain.case import GraftingCase
from service.formulas.body_chart import place_percentages
from service.settings import Settings
from service.wiring import PlanReply, answer_plan_request, build_parts
from tests.builders import Resource, body_of, loaded
from tests.conftest import SAMPLES
from tests.roundtrip.recorded_session import (
    append_entries,
    carry_out,
    code_of,
    entries_of_next_session,
    read_next_session,
    split_by_place,
)

PARTS = build_parts(Settings())
NAMES = ("adult-60-percent-first-plan", "child-3-years-45-percent", "hands-and-face-12-percent")
REPLANS = 4
TOLERANCE_CM2 = Decimal(1)


@dataclass(frozen=True)
class Step:
    """One request and its answer."""

    request: Resource
    reply: PlanReply

    @property
    def case(self) -> GraftingCase:
        return self.reply.answer.case


def plan(request: Resource) -> Step:
    return Step(request, answer_plan_request(PARTS, body_of(request)))


@pytest.fixture(scope="module", params=NAMES)
def course(request) -> tuple[Step, ...]:
    """The first plan and its re-plans, each after one more session."""
    steps = [plan(loaded((SAMPLES / f"{request.param}.json").read_bytes()))]
    while len(steps) <= REPLANS and (later := carry_out(steps[-1].request, steps[-1].reply, PARTS.evidence)):
        steps.append(plan(later))
    return tuple(steps)


def burned_cm2(case: GraftingCase) -> dict[Place, Decimal]:
    """Area of each place that needs a graft, at the body surface of the case. [cm²]"""
    shares = place_percentages(PARTS.evidence, case.age_years)
    areas: dict[Place, Decimal] = {}
    for extent in case.record.extents:
        if extent.depth in NEEDS_GRAFT | {Depth.INDETERMINATE} and extent.place.facts.methods:
            area = extent_percent_tbsa(extent, shares) * case.body_surface_m2 * 100
            areas[extent.place] = areas.get(extent.place, Decimal(0)) + area
    return areas


def recorded_cm2(records, place: Place) -> Decimal:
    return sum((r.area_cm2 for r in records if r.place == place), Decimal(0))


def planned_cm2(case: GraftingCase, acts, place: Place) -> Decimal:
    places = {w.wound_id: w.place for w in case.wounds}
    return sum((a.area_cm2 for a in acts if places[a.wound_id] == place), Decimal(0))


def held_cm2(case: GraftingCase, place: Place) -> Decimal:
    """Under grafts that have taken, or are not read yet. [cm²]"""
    return sum((
        p.area_cm2 * (1 if p.take_fraction is None else p.take_fraction)
        for p in case.record.placements if p.place == place), Decimal(0))


def test_what_was_recorded_is_read_as_it_was_done(course):
    for before, after in zip(course, course[1:], strict=False):
        session = read_next_session(before.reply.resource)
        done = split_by_place(before.reply, session.day)
        record = after.case.record
        assert {x.place: x.area_cm2 for x in record.excisions if x.day == session.day} == done.excised
        assert {(p.place, p.method): p.area_cm2 for p in record.placements if p.day == session.day} == done.placed
        assert {x.place: x.area_cm2 for x in record.covers if x.day == session.day} == done.covered
        harvests = [h for h in record.harvests if h.day == session.day]
        assert sum(h.area_cm2 for h in harvests) == session.totals_cm2["harvest-skin"]
        assert after.reply.read.notes == ()


def test_nothing_done_is_planned_again(course):
    """The day after a session no take of it is known: what was placed and what is planned fill the burn once."""
    second = course[1]
    settled = second.reply.answer.plan.settled
    firm = [p for p in settled.placements if not p.is_regraft]
    for place, burned in burned_cm2(second.case).items():
        placed = recorded_cm2(second.case.record.placements, place) + planned_cm2(second.case, firm, place)
        excised = recorded_cm2(second.case.record.excisions, place) + planned_cm2(
            second.case, settled.excisions, place)
        assert placed <= burned + TOLERANCE_CM2, place.key
        assert excised <= burned + TOLERANCE_CM2, place.key


def test_areas_balance_over_the_replans(course):
    """What is open, held by grafts, or lost and dressed makes up the burn, at every re-plan."""
    for step in course:
        for place, burned in burned_cm2(step.case).items():
            wounds = [w for w in step.case.wounds if w.place == place]
            still_open = sum((w.area_cm2 + w.dressed_cm2 for w in wounds), Decimal(0))
            assert abs(still_open + held_cm2(step.case, place) - burned) <= TOLERANCE_CM2, place.key
        assert "history-exceeds-wound" not in {f.code for f in step.reply.answer.findings}


def test_every_session_brings_the_end_nearer(course):
    areas = [sum(w.area_cm2 for w in step.case.wounds) for step in course]
    assert areas == sorted(areas, reverse=True)
    assert len(course) == REPLANS + 1 or course[-1].reply.answer.plan.settled.firm_sessions == ()


def test_donor_skin_is_booked_once(course):
    for step in course:
        for site in step.case.donor_sites:
            counted = sum((p.area_cm2 * p.harvest_count for p in site.parcels), Decimal(0))
            assert counted == recorded_cm2(step.case.record.harvests, site.place)


#: What of an answer a server of record may hold and send back.
KEPT = ("CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue", "Observation")
THEATRE_TASKS = ("excise-wound", "harvest-skin", "place-graft", "place-cover")


def test_an_answer_sent_back_is_not_history(course):
    """The plan of before the session comes along in the Bundle: it is set aside, and nothing changes."""
    before, after = course[:2]
    sent = [e for e in before.reply.resource["entry"] if e["resource"]["resourceType"] in KEPT]
    again = plan(append_entries(after.request, sent))
    assert again.case.record == after.case.record
    assert again.reply.answer.plan == after.reply.answer.plan
    aside = again.reply.read.set_aside
    assert len(aside) - len(after.reply.read.set_aside) == len(sent)
    own = {one.resource_type for one in aside if one.reason == "own-answer"}
    assert own == {"CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue", "Observation"}


def test_a_completed_task_asks_for_its_procedure_until_it_is_recorded(course):
    before, after = course[:2]
    done = [
        {"fullUrl": e["fullUrl"], "resource": e["resource"] | {"status": "completed"}}
        for e in entries_of_next_session(before.reply.resource) if code_of(e["resource"]) in THEATRE_TASKS]
    assert done
    unrecorded, recorded = (plan(append_entries(step.request, done)) for step in (before, after))
    codes = [{f.code for f in step.reply.answer.findings} for step in (unrecorded, recorded)]
    assert ["completed-task-without-procedure" in found for found in codes] == [True, False]
    assert unrecorded.case.record.placements == before.case.record.placements
