import pytest

from service.formulas.theatre_minutes import in_room_minutes, procedure_minutes, theatre_slot_minutes

MINUTES = {"fixed_minutes": 30, "minutes_per_percent": 13, "turn_minutes": 20, "special_area_minutes": 15}


def test_a_turn_and_special_areas_add_their_minutes():
    assert procedure_minutes(10, 1, 0, **MINUTES) == 160
    assert procedure_minutes(10, 2, 0, **MINUTES) == 180
    assert procedure_minutes(10, 2, 3, **MINUTES) == 225


@pytest.mark.parametrize(("percent", "positions"), [(10, 0), (-0.1, 1)])
def test_no_session_without_a_position_or_with_a_negative_area(percent, positions):
    with pytest.raises(ValueError):
        procedure_minutes(percent, positions, 0, **MINUTES)


def test_in_room_and_slot():
    in_room = in_room_minutes(100, induction_minutes=12, preparation_minutes=32, exit_minutes=15)
    assert in_room == 159
    assert theatre_slot_minutes(in_room, turnover_minutes=50, another_patient_follows=True) == 209
    assert theatre_slot_minutes(in_room, turnover_minutes=50, another_patient_follows=False) == 159
