"""Strips and plates against the worked examples of the theatre evidence."""

from decimal import Decimal

import pytest

from service.evidence.library import load_evidence
from service.schedule.quantities import plate_area_cm2, plates_needed
from service.schedule.strips import Strip, harvest_for_whole_squares_cm2, usual_strip

D = Decimal


def strip(width, length=250):
    return Strip(D(width), D(length), D(42))


@pytest.mark.parametrize(("width", "squares", "used"), [  # theatre 13.2, example 8; theatre 5.2 (derived)
    (100, 10, "0.706"), (76, 5, "0.464"), (102, 10, "0.692"), (84, 10, "0.84"), (51, 5, "0.692"), (25, 0, "0"),
])
def test_whole_squares_of_a_strip(width, squares, used):
    assert strip(width).whole_squares() == squares
    assert abs(strip(width).whole_square_share - D(used)) < D("0.001")


def test_plates_for_3600_cm2_of_islands_1_6():
    """Theatre 13.2, example 7 (derived): 99.3 cm² a gauze, 37 plates and 2 spare, 652.7 cm² of skin, 919 harvested."""
    evidence = load_evidence()
    plates = plates_needed(D(3600), D("99.3"))
    assert plates == 37
    assert plates + evidence.value("spare-plates") == 39
    assert round(plates * plate_area_cm2(evidence), 1) == D("652.7")
    share = evidence.value("strip-whole-square-share")
    assert round(harvest_for_whole_squares_cm2(plates, plate_area_cm2(evidence), share)) == 919


def test_last_strip_is_cut_short():
    assert strip(100).strips_needed(D("250.1")) == 2
    assert strip(100).plates_from_whole_squares(D(250)) == 10
    assert strip(100).plates_from_whole_squares(D(250 + 42)) == 12
    assert strip(100).plates_from_whole_squares(D(250 + 41)) == 10


def test_pieces_laid_together_give_more():
    assert strip(100).plates_with_piecing(D(250)) == 14


def test_usual_strip_is_the_configured_one():
    assert usual_strip(load_evidence()) == strip(100)
