"""Blood and theatre minutes: worked examples of the grafting, theatre and assessment pages."""

import pytest

from service.formulas.blood_loss import (
    allowable_blood_loss_bourke_smith_ml,
    allowable_blood_loss_gross_ml,
    allowable_blood_loss_simple_ml,
    blood_loss_ml,
    blood_volume_ml,
)
from service.formulas.theatre_minutes import (
    in_room_minutes,
    plate_preparation_minutes,
    procedure_minutes,
    theatre_slot_minutes,
    two_team_minutes_floor,
)
from tests.worked_examples.example import Example, Kind, check, names, value


def excision(area_cm2, ml_per_cm2):
    return lambda: blood_loss_ml(area_cm2, 0, excision_ml_per_cm2=ml_per_cm2, harvest_ml_per_cm2=0)


def procedure(percent, positions=1, special=0):
    return procedure_minutes(
        percent, positions, special,
        fixed_minutes=value("theatre-minutes/fixed"),
        minutes_per_percent=value("theatre-minutes/per-percent"),
        turn_minutes=value("theatre-minutes/turn"),
        special_area_minutes=value("theatre-minutes/special-area"),
    )  # fmt: skip


def in_room(minutes, induction=12.4, preparation=32.1, leaving=14.7):
    return in_room_minutes(
        minutes, induction_minutes=induction, preparation_minutes=preparation, exit_minutes=leaving)


def slot(minutes, *, follows):
    return theatre_slot_minutes(minutes, turnover_minutes=50.5, another_patient_follows=follows)


def child_limit_percent(blood_share_percent):
    """Excision [%TBSA] before transfusion of the child of 10 kg, haematocrit 36 to 24."""
    volume = blood_volume_ml(10, 80)
    return lambda: allowable_blood_loss_simple_ml(volume, 36, 24) / (volume * blood_share_percent / 100)


P, D, M = Kind.PUBLISHED, Kind.DERIVED, Kind.MEMORY
EXAMPLES = [
    Example("grafting 17 early", excision(5400, 0.40), 2160, 1e-9, "desai-1990", Kind.PARTLY),
    Example("grafting 17 later", excision(5400, value("blood-loss-per-cm2/excision-child")), 4050, 1e-9, "desai-1990",
            Kind.PARTLY),
    Example("grafting 18", excision(180, value("blood-loss-per-cm2/excision-adult")), 144, 1e-9, "farny-2018", D),
    Example("39 volume", lambda: blood_volume_ml(20, value("blood-volume-per-kg/child")), 1500, 0, "housinger", D),
    Example("39", lambda: blood_volume_ml(20, 75) * 15 * 0.028, 630, 1, "housinger", D),
    Example("42 simple", lambda: allowable_blood_loss_simple_ml(4900, 12, 8), 1633, 1, "assessment 6", M),
    Example("42 Gross", lambda: allowable_blood_loss_gross_ml(4900, 12, 8), 1960, 1, "assessment 6", M),
    Example("42 log", lambda: allowable_blood_loss_bourke_smith_ml(4900, 12, 8), 1987, 1, "assessment 6", M),
    Example("6 question, simple", lambda: allowable_blood_loss_simple_ml(3250, 37, 21), 1400, 6, "question", P),
    Example("6 question, Gross", lambda: allowable_blood_loss_gross_ml(3250, 37, 21), 1793, 1, "question", D),
    Example("theatre 12", lambda: allowable_blood_loss_simple_ml(800, 36, 24), 266.7, 0.05, "theatre 12", D),
    Example("theatre 12 excised", child_limit_percent(2.8), 11.9, 0.05, "theatre 12", D),
    Example("theatre 12 excised and grafted", child_limit_percent(4.6), 7.2, 0.05, "theatre 12", D),
    Example("theatre 3", lambda: slot(in_room(68.21), follows=True), 177.9, 0.05, "theatre 1.2", Kind.PARTLY),
    Example("theatre 3 last of the day", lambda: slot(in_room(68.21), follows=False), 127.4, 0.05,
            "theatre 1.2", Kind.PARTLY),
    *(Example(f"theatre 1.5 {p} %", lambda p=p: procedure(p), minutes, 0, "theatre 1.5", D)
      for p, minutes in ((3, 69), (8, 134), (15, 225), (20, 290))),
    *(Example(f"theatre 1.5 {p} % in room", lambda p=p: in_room(procedure(p)), minutes, 0.5, "theatre 1.5", D)
      for p, minutes in ((3, 128), (8, 193), (15, 284), (20, 349))),
    Example("theatre 1.5 calibration", lambda: procedure(8), 135, 1.35, "elderly-1988", P),
    Example("theatre 6", lambda: in_room(procedure(15, positions=2)), 304.2, 1e-9, "theatre 1.5", D),
    Example("theatre 6 two teams", lambda: two_team_minutes_floor(procedure(15), saving_fraction=0.25), 168.75,
            1e-9, "theatre 2", D),
    Example("theatre 7", lambda: plate_preparation_minutes(
        37, 2, minutes_per_plate=value("theatre-minutes/plate-preparation")), 55.5, 0, "theatre 1.4", M),
]  # fmt: skip


@pytest.mark.parametrize("example", EXAMPLES, ids=names(EXAMPLES))
def test_worked_example(example):
    check(example)


def test_example_18_lies_in_the_range_of_the_clotting_risk_model():
    assert 99 < excision(180, value("blood-loss-per-cm2/excision-adult"))() < 171


def test_simple_form_allows_least():
    for start, lowest in ((12, 8), (9, 7), (15, 8)):
        simple = allowable_blood_loss_simple_ml(4900, start, lowest)
        assert simple < allowable_blood_loss_gross_ml(4900, start, lowest)
        assert simple < allowable_blood_loss_bourke_smith_ml(4900, start, lowest)


def test_harvest_rows_keep_the_published_ratio():
    for age in ("adult", "child"):
        ratio = value(f"blood-loss-per-cm2/harvest-{age}") / value(f"blood-loss-per-cm2/excision-{age}")
        assert ratio == pytest.approx(1.8 / 2.8, abs=0.006)


def test_n3_turnover_is_not_charged_to_the_last_patient():
    assert slot(127.4, follows=False) == 127.4


def test_n4_minutes_are_per_per_cent_operated_on():
    """Nearer to the elderly series (16.9 a per cent grafted) than to those per per cent burned."""
    assert value("theatre-minutes/per-percent") < 22.8
