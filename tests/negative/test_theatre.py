"""Negative examples of theatre: minutes, stored skin, positions, stock, infected beds."""

import csv
import json
import re
from dataclasses import replace
from decimal import ROUND_CEILING, Decimal

import pytest

from service.domain.body_region import Region, Side, Surface
from service.domain.burn_wound import BedRecord, BedState
from service.domain.graft import GraftMethod
from service.domain.rule import Rule
from service.formulas.theatre_minutes import in_room_minutes, procedure_minutes, theatre_slot_minutes
from service.schedule.stored_skin import state_of_stored_skin
from service.settings import Settings
from service.verification.verify import verify_plan
from service.wiring import answer_plan_request, build_parts
from service.wording.findings import word_finding
from service.wording.plan_text import write_plan_text
from tests.builders import burn_wound, harvest
from tests.builders import patient as sent_patient
from tests.conftest import FIRST_PLAN, ROOT
from tests.negative.example import EVIDENCE, PREFERENCES, Negative, assess, codes, names, numbers, plan
from tests.records import TODAY, burn, patient, place
from tests.unit.fhir.reading import errors, missing, read

TRUNK, BACK = place(Region.ANTERIOR_TRUNK), place(Region.POSTERIOR_TRUNK)
THIGH = place(Region.THIGH, Side.LEFT, Surface.FRONT)
MINUTES = {name: EVIDENCE.value("theatre-minutes", name) for name in (
    "induction", "preparation", "exit", "turnover", "fixed", "per-percent", "turn", "special-area")}


def worded(pattern: str) -> list[str]:
    """Rows of the code map and of the parameters that speak of something."""
    files = (ROOT / "shared" / "code-map.csv", ROOT / "service" / "fhir" / "tables" / "parameters.csv")
    rows = [" ".join(row) for path in files for row in csv.reader(path.open(newline="", encoding="utf-8"))]
    return [row for row in rows if re.search(pattern, row, re.IGNORECASE)]


def n1_growth_by_the_power_of_burn_size():
    """Minutes grow by the area operated on, evenly: twice the area, twice the minutes above the fixed part."""
    def minutes(percent):
        return procedure_minutes(percent, 1, 0, fixed_minutes=30, minutes_per_percent=13, turn_minutes=20,
                                 special_area_minutes=15) - 30

    assert minutes(60) == 2 * minutes(30) == 6 * minutes(10)


def n2_costs_added_up():
    assert worded(r"\bcosts?\b|\bprice|euro|dollar|currency") == []


def n3_turnover_after_the_last_patient():
    assert theatre_slot_minutes(127, turnover_minutes=50, another_patient_follows=False) == 127
    answer = plan(burn(TRUNK, "8"))
    listed = {q.name: q.value for q in answer.theatre_lists[0].quantities}
    room = in_room_minutes(
        listed["procedure-minutes"], induction_minutes=MINUTES["induction"],
        preparation_minutes=MINUTES["preparation"], exit_minutes=MINUTES["exit"])
    assert listed["in-room-minutes"] == room


def n4_minutes_by_what_is_burned():
    answer = plan(burn(TRUNK, "13"), burn(BACK, "13"))
    for session in answer.plan.settled.firm_sessions:
        operated = max(
            sum(act.area_cm2 for act in acts if act.day == session.day)
            for acts in (answer.plan.settled.excisions, answer.plan.settled.placements))
        percent = answer.case.percent_tbsa(operated)
        turns = MINUTES["turn"] * (len(session.positions) - 1)
        expected = MINUTES["fixed"] + MINUTES["per-percent"] * percent + turns
        assert percent < answer.case.burn_percent_tbsa
        assert expected.quantize(Decimal(1), ROUND_CEILING) == session.procedure_minutes


def n5_old_stored_skin_as_a_graft():
    """Skin from store closes no wound of a plan, and is not even named once it is too old."""
    states = [state_of_stored_skin(days, EVIDENCE) for days in (7, 10, 11, 15)]
    assert states == ["declining", "last-resort", None, None]
    answer = plan(burn(TRUNK, "8"))
    without = replace(answer.plan.settled, harvests=())
    assert Rule.SKIN_BALANCE in {v.rule for v in verify_plan(answer.case, without, EVIDENCE, PREFERENCES)}


def n6_skin_of_another_patient_or_without_a_date():
    wound = burn_wound("anterior-trunk", 8)
    assert "patient-twice" in errors(read(wound, sent_patient("p2")))
    procedure, *parts = harvest("right thigh front", "2026-03-03", "h1", 100, "0.2")
    procedure.pop("performedDateTime")
    assert "performed" in missing(read(wound, procedure, *parts))


def n7_a_dose_of_adrenaline():
    made = answer_plan_request(build_parts(Settings()), FIRST_PLAN.read_bytes())
    said = made.text + json.dumps(made.resource, default=str)
    assert not re.search(r"adrenaline|epinephrine", said, re.IGNORECASE)
    assert worded("adrenaline|epinephrine") == []


def n8_both_surfaces_without_a_plan_for_lying():
    answer = plan(burn(TRUNK, "8"), burn(BACK, "8"), record_changes={"patient": patient(off_loading_available=None)})
    days = {side: {p.day for p in answer.plan.settled.placements if p.wound_id.startswith(side)}
            for side in ("anterior", "posterior")}
    assert days["anterior"] and days["posterior"]
    apart = min(abs(front - back) for front in days["anterior"] for back in days["posterior"])
    assert apart >= EVIDENCE.value("protect-days")
    assert "bearing-surface-deferred" in codes(answer)


def n9_a_donor_site_on_the_side_that_lies_down():
    answer = plan(burn(TRUNK, "13"), burn(THIGH, "4"), burn(BACK, "6"))
    sites = {site.site_id: site.place for site in answer.case.donor_sites}
    sessions = {session.day: session for session in answer.plan.settled.sessions}
    assert answer.plan.settled.harvests
    for taken in answer.plan.settled.harvests:
        place_taken = sites[taken.site_id]
        assert place_taken.facts.reached[place_taken.surface] & set(sessions[taken.day].positions)


def n10_more_plates_than_carriers_in_stock():
    islands = frozenset({GraftMethod.ISLAND_1_4})
    short = plan(burn(TRUNK, "8"), methods_available=islands, carrier_stock=((Decimal(4), 3),))
    (found, *_) = (f for f in short.findings if f.code == "carrier-stock-short")
    words = word_finding(found)
    assert found.severity == "high" and "not complete" in words.text and "another ratio" in words.mitigation
    assert "LIST NOT COMPLETE" in write_plan_text(short)
    enough = plan(burn(TRUNK, "8"), methods_available=islands, carrier_stock=((Decimal(4), 500),))
    assert "carrier-stock-short" not in codes(enough)


def n11_excision_beyond_graft_and_cover():
    answer = plan(burn(TRUNK, "13"), burn(BACK, "13"), burn(THIGH, "4"))
    settled = answer.plan.settled
    for session in settled.firm_sessions:
        excised, grafted = (
            sum(act.area_cm2 for act in acts if act.day <= session.day)
            for acts in (settled.excisions, settled.placements))
        assert excised <= grafted
    assert "excision-waits-for-cover" in codes(answer)
    early = replace(settled, excisions=tuple(replace(e, day=settled.sessions[0].day) for e in settled.excisions))
    broken = {v.rule for v in verify_plan(answer.case, early, EVIDENCE, PREFERENCES)}
    assert Rule.COVER_EXCISED_BED in broken


def n12_a_graft_on_streptococci():
    bed = BedRecord(TRUNK, BedState.STREPTOCOCCUS, TODAY, "entry[7]")
    answer = plan(burn(TRUNK, "8"), burn(THIGH, "4"), record_changes={"beds": (bed,)})
    grafted = {placement.wound_id for placement in answer.plan.settled.placements}
    assert grafted and not any(wound_id.startswith("anterior-trunk") for wound_id in grafted)
    (found,) = (f for f in answer.findings if f.code == "bed-streptococcus")
    assert found.severity == "high"
    clear = plan(burn(TRUNK, "8"), burn(THIGH, "4")).plan.settled
    stopped = assess(burn(TRUNK, "8"), burn(THIGH, "4"), beds=(bed,))
    assert Rule.INFECTED_BED in {v.rule for v in verify_plan(stopped, clear, EVIDENCE, PREFERENCES)}


EXAMPLES = [
    Negative("N1", "a rate that multiplies with burn size, above 20 %TBSA", n1_growth_by_the_power_of_burn_size,
             no_input="no such model is used at any size"),
    Negative("N2", "costs by day, percent and operation added up", n2_costs_added_up,
             no_input="nothing about cost comes in or goes out"),
    Negative("N3", "turnover charged to the last patient", n3_turnover_after_the_last_patient),
    Negative("N4", "minutes per burned for minutes per operated", n4_minutes_by_what_is_burned),
    Negative("N5", "old stored skin offered as a graft", n5_old_stored_skin_as_a_graft),
    Negative("N6", "skin of another patient, or without its day", n6_skin_of_another_patient_or_without_a_date),
    Negative("N7", "a largest dose of adrenaline", n7_a_dose_of_adrenaline),
    Negative("N8", "front and back grafted without a plan for lying", n8_both_surfaces_without_a_plan_for_lying),
    Negative("N9", "donor site on the down side", n9_a_donor_site_on_the_side_that_lies_down),
    Negative("N10", "more plates than carriers in stock", n10_more_plates_than_carriers_in_stock),
    Negative("N11", "excision larger than graft and cover", n11_excision_beyond_graft_and_cover),
    Negative("N12", "a graft on streptococci", n12_a_graft_on_streptococci),
]


@pytest.mark.parametrize("example", EXAMPLES, ids=names(EXAMPLES))
def test_negative_example(example):
    example.show()


def test_the_table_holds_every_example_of_the_page():
    assert numbers(EXAMPLES) == [f"N{number}" for number in range(1, 13)]
