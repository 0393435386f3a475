"""Every ward event names the evidence that its window rests on."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.burn_wound import BedState
from service.domain.dressing import EventKind as Kind
from service.domain.session import CoverKind, CoverPlacement
from service.evidence.library import load_evidence
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.schedule.dressings import schedule_care
from tests.random_cases import random_case
from tests.unit.schedule.plans import THIGH_ID, hand_made_case, hand_made_plan

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
KNOWN = {row.row_id for row in EVIDENCE}
#: Done today because the record says infected, not by a window of the evidence.
WITHOUT_WINDOW = {Kind.INSPECT_BED}


def events(case=None, plan=None):
    return schedule_care(case or hand_made_case(), plan or hand_made_plan(), EVIDENCE, PREFERENCES).events


@pytest.mark.parametrize("seed", range(6))
def test_no_ward_event_is_without_a_row_and_every_row_exists(seed):
    case = random_case(seed)
    for event in events(case, plan_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)):
        assert set(event.sources) <= KNOWN
        assert event.sources or not event.series or event.kind in WITHOUT_WINDOW, event.kind


@pytest.mark.parametrize(("kind", "rows"), [
    (Kind.APPLY_RELEASE_AGENT, {"read-day/island", "release-agent-lead-days/any"}),
    (Kind.REMOVE_CARRIER, {"read-day/island"}),
    (Kind.CHANGE_DONOR_DRESSING, {"donor-dressing-first-change-days/any", "donor-treated-as-wound-days/any"}),
    (Kind.CHECK_DONOR_HEALING, {"donor-healing-days/thigh-thin-adult", "donor-healing-days/thigh-medium-adult",
                                "donor-healing-repeat-factor/body"}),
    (Kind.START_MOISTURISER, {"closure-days/island-1-4", "closure-days/sheet", "closure-days/meshed-1-1.5"}),
    (Kind.START_COMPRESSION, {"compression-after-leg-graft-days/any", "closure-days/meshed-1-1.5"}),
    (Kind.PREPARE_DONOR_SITE, {"donor-preparation-lead-days/any"}),
])
def test_rows_by_kind(kind, rows):
    assert {source for event in events() if event.kind is kind for source in event.sources} == rows


def test_staples_of_mesh_name_usual_and_last_day():
    found = {s for e in events() if e.kind is Kind.REMOVE_STAPLES for s in e.sources}
    assert {"staple-removal-days/meshed", "staple-latest-days/any", "read-day/island"} <= found


def test_cover_and_template_name_their_rows():
    cover = CoverPlacement(2, THIGH_ID, CoverKind.TEMPORARY, Decimal(100), 16)
    case, plan = hand_made_case(), hand_made_plan()
    trunk = replace(case.wounds[0], bed_state=BedState.UNDER_TEMPLATE, ready_from_day=4)
    made = events(replace(case, wounds=(trunk, *case.wounds[1:])), replace(plan, covers=(cover,)))
    sources = {e.kind: set(e.sources) for e in made}
    assert sources[Kind.CHECK_COVER] == {"cover-check-days/any", "cover-life/any"}
    assert sources[Kind.RENEW_COVER] == {"cover-life/any"}
    assert sources[Kind.CHECK_TEMPLATE] == {"template-graft-days/any"}


def test_a_healing_site_of_the_record_names_the_row_of_its_thickness():
    made = events(hand_made_case(past=True))
    check = next(e for e in made if e.kind is Kind.CHECK_DONOR_HEALING)
    assert "donor-healing-days/thigh-thin-adult" in check.sources
