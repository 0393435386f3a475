"""Negative examples of assessment and fluids: a wrong input or a wrong behaviour, and what happens instead."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from service.assessment.fluids import estimate_fluids
from service.domain.body_region import Region, Side, Surface
from service.domain.burn_wound import Depth
from service.domain.graft import GraftMethod
from service.evidence.library import Evidence
from service.formulas.body_chart import ChartRefused, chart_columns, place_percentages, refuse_incomplete_column
from service.formulas.body_surface_area import by_formula
from service.formulas.fluids import day_volume_ml, fluid_rates, rule_of_ten_ml_per_hour
from service.wording.fluid_text import word_fluid_notes
from tests.builders import burn_wound
from tests.builders import measured as sent
from tests.negative.example import EVIDENCE, PREFERENCES, Negative, assess, codes, names, numbers, plan, refuses
from tests.records import burn, measured, patient, place, request
from tests.unit.fhir.reading import errors, read

TRUNK, BACK = place(Region.ANTERIOR_TRUNK), place(Region.POSTERIOR_TRUNK)
NOW = request().as_of


def fluids(*extents, hours=1, weight="80"):
    person = patient(injury=NOW - timedelta(hours=hours), weight_kg=measured(weight))
    return estimate_fluids(assess(*extents, patient=person), EVIDENCE, PREFERENCES)


def rates(volume_ml, hours, given_ml=0):
    return fluid_rates(volume_ml, hours_since_injury=hours, given_ml=given_ml, first_half_hours=8, whole_hours=24)


def n1_a_chart_that_is_no_whole_body():
    for total in (98, 95, 101):
        column = dict(chart_columns(EVIDENCE)[0][1])
        column["anterior-trunk"] += total - 100
        refuses(ChartRefused, lambda column=column: refuse_incomplete_column(column))


def n2_a_misprinted_row():
    for row_id, wrong in (("thigh-10", "9"), ("hand-10", "3")):
        rows = tuple(replace(row, value=Decimal(wrong)) if row.row_id == f"body-chart-percent/{row_id}" else row
                     for row in EVIDENCE)
        refuses(ChartRefused, lambda rows=rows: place_percentages(Evidence(rows, "misprinted"), 30))


def n3_erythema_in_the_burn_size():
    red = burn(BACK, "10", Depth.SUPERFICIAL)
    assert assess(burn(TRUNK, "13"), red).burn_percent_tbsa == 13
    assert fluids(burn(TRUNK, "13"), red).lines == fluids(burn(TRUNK, "13")).lines
    assert read(burn_wound("anterior-trunk", 13, None)).missing[0].datum == "burn-depth"


def n4_the_average_of_the_day_as_the_first_rate():
    first = rates(day_volume_ml(90, 40, 4), hours=0).first_ml_per_hour
    average = day_volume_ml(90, 40, 4) / 24
    assert (first, average, average / first) == (900, 600, pytest.approx(2 / 3))


def n5_a_clock_from_arrival_or_too_much_given():
    assert rates(11_200, hours=2).first_ml_per_hour > rates(11_200, hours=0).first_ml_per_hour
    assert rates(11_200, hours=9).first_ml_per_hour == rates(11_200, hours=9).then_ml_per_hour > 0
    given = rates(11_200, hours=2, given_ml=7000)
    assert given.first_ml_per_hour == 0 and given.is_over_half_given
    late = fluids(burn(TRUNK, "13"), burn(BACK, "13"), hours=7.99)
    assert all(one.is_catch_up_capped and one.catching_up.first_ml_per_hour < 2000 for one in late.lines)


def n6_the_rule_of_ten_for_the_light_or_a_child():
    published = {"percent_step": 10, "ml_per_hour_per_percent": 10, "lowest_weight_kg": 40, "heavy_weight_kg": 80,
                 "heavy_step_kg": 10, "heavy_step_ml_per_hour": 100}
    refuses(ValueError, lambda: rule_of_ten_ml_per_hour(30, 39, is_adult=True, **published))
    refuses(ValueError, lambda: rule_of_ten_ml_per_hour(30, 60, is_adult=False, **published))
    assert fluids(burn(TRUNK, "13"), weight="39").rule_of_ten_ml_per_hour is None


def n7_a_whole_region_entered_for_one_surface():
    """Both surfaces of the arm on its back, the whole leg on its front, head and neck as one half each."""
    for where, whole in (("left upper-arm back", 4), ("right lower-leg front", 7), ("face", 7), ("neck front", 2)):
        assert errors(read(burn_wound(where, whole))) == ["extents-over-region"]
    twice = read(burn_wound("left thigh front", 3), burn_wound("left thigh front", 3, "deep-partial"))
    assert errors(twice) == ["extents-over-region"]


def n8_another_unit_than_asked_for():
    refuses(ValueError, lambda: by_formula(EVIDENCE, "mosteller", 1.75, 70))
    assert by_formula(EVIDENCE, "boyd", 170, 70) == pytest.approx(1.835, abs=0.003)  # asks for kg, converts itself
    refuses(ValueError, lambda: day_volume_ml(70, 0.40, 2))
    assert errors(read(burn_wound("anterior-trunk", "0.40"))) == ["percent-or-fraction"]
    assert errors(read(burn_wound("anterior-trunk", 8), sent("height", 1.75)))
    assert errors(read(burn_wound("anterior-trunk", 8), sent("weight", 70_000)))


def n9_one_formula_in_obesity():
    heavy = patient(weight_kg=measured("180"), height_cm=measured("175"))
    answer = plan(burn(TRUNK, "5"), record_changes={"patient": heavy})
    (found,) = (f for f in answer.findings if f.code == "body-surface-formulas-differ")
    values = dict(found.values)
    assert (values["surface_m2"], values["other_surface_m2"]) == ("2.96", "3.37")


def n10_a_score_as_a_percentage():
    answer = plan(burn(TRUNK, "13"))
    fields = {*vars(answer), *vars(answer.plan), *vars(answer.case), *vars(answer.case.record.patient)}
    assert "closures" in fields
    assert not fields & {"score", "risk", "mortality", "baux"}


def n11_a_volume_below_the_threshold_without_a_note():
    small = fluids(burn(TRUNK, "13"))
    assert any(note.startswith("Below formal threshold") for note in word_fluid_notes(small))


def n12_a_volume_that_is_too_much():
    large = [burn(place(region, side, surface), share) for side in Side for surface in Surface
             for region, share in ((Region.THIGH, "4.75"), (Region.LOWER_LEG, "3.5"))]
    found = fluids(burn(TRUNK, "13"), burn(BACK, "13"), *large)
    assert [one.figure for one in found.lines if one.is_over_review] == ["observed-mean"]
    assert any("over-resuscitation; the figure 5.2 lies above" in note for note in word_fluid_notes(found))


def n13_a_third_harvest():
    """Only the scalp is left to give skin, at 1:1, to a large burn."""
    everywhere = [burn(place(region, side, surface), share) for side in Side for surface in Surface
                  for region, share in ((Region.THIGH, "4.75"), (Region.LOWER_LEG, "3.5"), (Region.UPPER_ARM, "2"),
                                        (Region.FOREARM, "1.5"))]
    buttocks = [burn(place(Region.BUTTOCK, side), "2.5") for side in Side]
    answer = plan(burn(TRUNK, "13"), burn(BACK, "13"), *everywhere, *buttocks,
                  methods_available=frozenset({GraftMethod.MESHED_1_3}))
    assert max(harvest.harvest_number for harvest in answer.plan.settled.harvests) == 3
    assert "third-harvest" in codes(answer)


EXAMPLES = [
    Negative("N1", "rule of nines printed as a body chart", n1_a_chart_that_is_no_whole_body),
    Negative("N2", "thigh or hand half misprinted", n2_a_misprinted_row),
    Negative("N3", "erythema counted", n3_erythema_in_the_burn_size),
    Negative("N4", "average of the day printed as first rate", n4_the_average_of_the_day_as_the_first_rate),
    Negative("N5", "clock from arrival, hour 8 or later, over half given", n5_a_clock_from_arrival_or_too_much_given),
    Negative("N6", "rule of ten under 40 kg or in a child", n6_the_rule_of_ten_for_the_light_or_a_child),
    Negative("N7", "whole region for one surface", n7_a_whole_region_entered_for_one_surface),
    Negative("N8", "grams, metres or a fraction", n8_another_unit_than_asked_for),
    Negative("N9", "one body-surface formula at 180 kg", n9_one_formula_in_obesity),
    Negative("N10", "risk score shown", n10_a_score_as_a_percentage,
             no_input="no score is computed, so none can be shown; nothing asks for one"),
    Negative("N11", "small burn without a note", n11_a_volume_below_the_threshold_without_a_note),
    Negative("N12", "over 250 mL/kg or 6 mL/kg/%", n12_a_volume_that_is_too_much),
    Negative("N13", "third harvest without a warning", n13_a_third_harvest),
]


@pytest.mark.parametrize("example", EXAMPLES, ids=names(EXAMPLES))
def test_negative_example(example):
    example.show()


def test_the_table_holds_every_example_of_the_page():
    assert numbers(EXAMPLES) == [f"N{number}" for number in range(1, 14)]
