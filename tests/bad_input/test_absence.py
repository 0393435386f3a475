"""The absence table, datum by datum, sample by sample: what is not there is asked for, confirmed, or costs reach."""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache

import pytest

from service.assessment.assess import assess_case
from service.domain.case import GraftingCase
from service.evidence.library import load_evidence
from service.fhir.json_text import dump
from service.fhir.read_case import read_request
from service.fhir.read_result import ReadResult
from service.fhir.tables import absence_rules
from service.preferences.library import load_preferences
from service.settings import Settings
from service.verification.verify import verify_plan
from service.wiring import PlanReply, answer_plan_request, build_parts
from tests import builders as make
from tests.bad_input.removals import REMOVALS, Remove, resource
from tests.builders import loaded
from tests.conftest import ANSWERED_SAMPLES, SAMPLES
from tests.planned_samples import reply_to

PARTS = build_parts(Settings())
#: What stands on the request and what it must leave: a finding for each, when it is a precondition.
PRECONDITIONS = {
    "bed-state": "bed-state-not-recorded", "allergy": "allergy-not-recorded", "fitness": "fitness-not-recorded",
    "donor-state": "donor-healing-not-recorded",
}
OPTIONAL = {
    name: resource(name)
    for name in ("albumin", "total-burn-extent", "graft-take", "graft-thickness", "off-loading-available")}
BUILT = "with an open wound"  # no sample has one
WHOLE = [BUILT] + [path.stem for path in ANSWERED_SAMPLES if path.stem not in ("missing-weight", "comfort-care")]
KINDS = {kind: [datum for datum, rule in absence_rules().items() if rule.kind == kind]
         for kind in ("required", "precondition", "accepted", "none")}


def request_of(sample: str, remove: Remove | None = None) -> bytes | None:
    """A sample, or what is left of it; ``None`` when it never held the datum."""
    request = make.record(make.burn_wound(), make.open_wound()) if sample == BUILT else loaded(
        (SAMPLES / f"{sample}.json").read_bytes())
    return dump(request) if remove is None or remove(request) else None


@lru_cache
def bodies_without(datum: str) -> list[tuple[str, bytes]]:
    """Every sample that held the datum, without it."""
    remove = REMOVALS.get(datum) or OPTIONAL[datum]
    found = [(sample, body) for sample in WHOLE if (body := request_of(sample, remove))]
    assert found, datum
    return found


def case_of(read: ReadResult) -> GraftingCase:
    return assess_case(read.record, read.request, load_evidence(), load_preferences())


@lru_cache
def whole_case(sample: str) -> GraftingCase:
    return case_of(read_request(request_of(sample)))


def ready_skin_cm2(case: GraftingCase) -> Decimal:
    """Skin that is recorded as healed."""
    return sum((p.area_cm2 for s in case.donor_sites for p in s.parcels if p.healed_recorded), Decimal(0))


def assert_allows_no_more(less: GraftingCase, whole: GraftingCase) -> None:
    """Limits, ready skin and cover of the next session, and its day."""
    for name in ("excised_cm2", "grafted_cm2", "blood_ml", "procedure_minutes", "positions"):
        assert getattr(less.limits, name) <= getattr(whole.limits, name), name
    assert less.limits.rest_days >= whole.limits.rest_days
    assert ready_skin_cm2(less) <= ready_skin_cm2(whole)
    assert (less.request.cover_stock_cm2 or 0) <= (whole.request.cover_stock_cm2 or 0)
    assert less.off_loading <= whole.off_loading
    assert less.thick_skin_allowed <= whole.thick_skin_allowed


def test_every_datum_of_the_table_is_taken_out():
    assert set(REMOVALS) == set(absence_rules())


@pytest.mark.parametrize("datum", KINDS["required"])
def test_a_required_datum_is_asked_for_and_nothing_is_planned(datum):
    for sample, body in bodies_without(datum):
        result = read_request(body)
        assert result.record is None, sample
        assert datum in {missing.datum for missing in result.missing}, sample


@pytest.mark.parametrize("datum", [*KINDS["precondition"], *KINDS["accepted"], *KINDS["none"], *OPTIONAL])
def test_another_datum_allows_no_more_by_its_absence(datum):
    for sample, body in bodies_without(datum):
        result = read_request(body)
        assert result.missing == ()
        assert_allows_no_more(case_of(result), whole_case(sample))


def planned_without(datum: str) -> tuple[PlanReply, str]:
    """The plan of the last sample that held the datum."""
    sample, body = bodies_without(datum)[-1]
    return answer_plan_request(PARTS, body), sample


@pytest.mark.parametrize(("datum", "finding"), PRECONDITIONS.items())
def test_a_lost_warning_leaves_a_precondition(datum, finding):
    for sample, body in bodies_without(datum):
        case = case_of(read_request(body))
        has_reason = datum != "donor-state" or case.record.harvests
        if has_reason and any(wound.area_cm2 > 0 for wound in case.wounds):
            assert finding in {one.code for one in case.findings}, sample


def test_a_precondition_is_a_task():
    reply, _ = planned_without("fitness")
    tasks = [e["resource"] for e in reply.resource["entry"] if e["resource"]["resourceType"] == "Task"]
    assert any(task["code"]["coding"][0]["code"] == "confirm-precondition" for task in tasks)


@pytest.mark.parametrize("datum", [*KINDS["accepted"], *KINDS["none"]])
def test_what_is_assumed_instead_is_said(datum):
    reply, _ = planned_without(datum)
    issues = [issue["details"]["text"] for e in reply.resource["entry"]
              if e["resource"]["resourceType"] == "OperationOutcome" for issue in e["resource"]["issue"]]
    assert f"Assumed. {absence_rules()[datum].meaning}." in issues


@pytest.mark.parametrize("sample", ["adult-60-percent-first-plan", "child-3-years-45-percent"])
@pytest.mark.parametrize("datum", ["sex", "fitness", "cover-stock", "transfusion-units"])
def test_a_plan_made_without_a_datum_comes_no_sooner_and_is_allowed_with_it(sample, datum):
    body = request_of(sample, REMOVALS[datum])
    assert body is not None
    less, whole = (one.answer.plan.settled for one in (answer_plan_request(PARTS, body), reply_to(sample)))
    assert less.firm_sessions[0].day >= whole.firm_sessions[0].day
    # every limit of the whole record holds for what was planned on less of it
    assert verify_plan(whole_case(sample), less, load_evidence(), load_preferences()) == ()
