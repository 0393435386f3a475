"""Grafts and what they lost, booked by day: nothing that was done is asked for again, no loss is forgotten."""

from datetime import date
from decimal import Decimal
from itertools import permutations

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region, Side
from service.domain.burn_wound import Depth, OpenWound
from service.domain.case import CoverRecord, ExcisionRecord, PlacementRecord
from service.domain.graft import GraftMethod
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from tests.records import burn, place, record, request

TRUNK = place(Region.ANTERIOR_TRUNK)
LEG = place(Region.LOWER_LEG, Side.LEFT)
BURNS = (burn(TRUNK, "10"),)
GRAFTED, READ, AFTER = date(2026, 2, 24), date(2026, 2, 28), date(2026, 3, 3)


def grafted(area, *, day=GRAFTED, take=None, read=READ, where=TRUNK, method=GraftMethod.MESHED_1_2, source="entry[9]"):
    return PlacementRecord(where, day, Decimal(area), method, source,
                           None if take is None else Decimal(take), None if take is None else read)


def case_after(*placements, burns=BURNS, **records):
    """The case of a trunk burned over 2,000 cm² after these grafts."""
    history = record(*burns, placements=placements, **records)
    return assess_case(history, request(), load_evidence(), load_preferences())


def wounds_of(*placements, burns=BURNS):
    return {w.wound_id: w for w in case_after(*placements, burns=burns).wounds}


def trunk_after(*placements):
    return wounds_of(*placements)["anterior-trunk:full-thickness"]


def test_a_graft_of_the_same_day_does_not_lie_on_what_its_neighbour_lost():
    """1,000 and 1,000 fill the burn; a fifth of each is lost, and nothing else is open."""
    wound = trunk_after(grafted(1000, take="0.8"), grafted(1000, take="0.8", source="entry[10]"))
    assert wound.area_cm2 == wound.excised_cm2 == 400


def test_a_graft_after_the_reading_covers_the_loss_when_nothing_else_is_open():
    wound = trunk_after(grafted(2000, take="0.8"), grafted(400, day=AFTER))
    assert wound.area_cm2 == 0
    assert [g.area_cm2 for g in wound.placed] == [2000, 400]


def test_a_graft_before_the_reading_does_not_cover_the_loss():
    wound = trunk_after(grafted(2000, take="0.8", read=date(2026, 3, 4)), grafted(300, day=AFTER))
    assert wound.area_cm2 == 400


def test_a_graft_of_the_day_of_the_reading_may_cover_the_loss():
    """The dressing comes off in theatre, and what was lost is grafted at once."""
    assert trunk_after(grafted(2000, take="0.8"), grafted(400, day=READ)).area_cm2 == 0


def test_a_later_graft_lies_on_bed_that_was_never_grafted_first():
    """A loss of 80 cm² is dressed; the 1,200 cm² of a later session are the rest of the burn, and no crumb is left."""
    wound = trunk_after(grafted(800, take="0.9"), grafted(1200, day=AFTER))
    assert (wound.area_cm2, wound.dressed_cm2) == (0, 80)


def test_a_loss_of_a_graft_on_a_loss_is_open_again():
    wound = trunk_after(grafted(2000, take="0.5"), grafted(1000, day=READ, take="0.7", read=AFTER))
    assert wound.area_cm2 == 300


def test_a_take_without_a_day_is_read_the_day_after_the_graft():
    same_day = trunk_after(grafted(2000, take="0.8", read=None), grafted(400))
    later = trunk_after(grafted(2000, take="0.8", read=None), grafted(400, day=AFTER))
    assert (same_day.area_cm2, later.area_cm2) == (400, 0)


@pytest.mark.parametrize(("again", "said"), [(400, False), (600, True)])
def test_a_bed_that_lost_its_graft_may_be_excised_again(again, said):
    """400 cm² of 2,000 were lost: as much excision more is no contradiction, 200 more is."""
    excisions = (ExcisionRecord(TRUNK, GRAFTED, Decimal(2000), "entry[7]"),
                 ExcisionRecord(TRUNK, AFTER, Decimal(again), "entry[8]"))
    case = case_after(grafted(2000, take="0.8"), excisions=excisions)
    assert ("history-exceeds-wound" in {f.code for f in case.findings}) is said
    assert sum(w.area_cm2 for w in case.wounds) == 400


@pytest.mark.parametrize(("areas", "ends"), [((900, 900), 13), ((900, 400), 7), ((400, 500), 7), ((0, 900), 13)])
def test_cover_that_was_renewed_lasts_from_its_renewal(areas, ends):
    """Cover lives 14 days. Laid a week ago and again yesterday: where the old one still lies, its end counts."""
    excision = ExcisionRecord(TRUNK, GRAFTED, Decimal(900), "entry[7]")
    covers = tuple(CoverRecord(TRUNK, day, Decimal(area), f"entry[{day.day}]")
                   for area, day in zip(areas, (date(2026, 2, 25), AFTER), strict=True) if area)
    case = case_after(excisions=(excision,), covers=covers)
    wound = next(w for w in case.wounds if w.covered_cm2)
    assert (wound.covered_cm2, wound.covered_until_day) == (900, ends)


@pytest.mark.parametrize("order", [*permutations(range(3))])
def test_the_order_of_the_records_does_not_matter(order):
    """Islands lie beside the joint only, so the mesh of the day goes where they cannot."""
    burns = (burn(LEG, "4"), burn(LEG, "2", Depth.DEEP_PARTIAL))
    whole = wounds_of(burns=burns)
    field = whole["left-lower-leg-front:full-thickness"].area_cm2
    rest = sum(w.area_cm2 for w in whole.values()) - field
    kinds = [(field, GraftMethod.ISLAND_1_3), (rest - 50, GraftMethod.MESHED_1_1_5), (50, GraftMethod.SHEET)]
    done = [grafted(area, where=LEG, method=method, source=f"entry[{9 + at}]", take="0.5")
            for at, (area, method) in zip(order, kinds, strict=True)]
    wounds = wounds_of(*done, burns=burns)
    assert {g.method for g in wounds["left-lower-leg-front:full-thickness"].placed} == {GraftMethod.ISLAND_1_3}
    assert sum(w.area_cm2 for w in wounds.values()) == pytest.approx((field + rest) / 2, abs=Decimal("0.5"))


@pytest.mark.parametrize(("grafted_cm2", "dressed"), [(1960, 40), (1905, 95), (1900, 0), (1000, 0), (0, 0)])
def test_a_remainder_within_the_accuracy_of_the_record_is_dressed(grafted_cm2, dressed):
    """Below 5 % of 2,000 cm² and below the smallest piece, here 100 cm² both."""
    case = case_after(*([grafted(grafted_cm2)] if grafted_cm2 else []))
    (wound,) = case.wounds
    assert (wound.area_cm2, wound.dressed_cm2) == (2000 - grafted_cm2 - dressed, dressed)
    said = [f for f in case.findings if f.code == "remainder-heals-by-dressing"]
    assert [dict(f.values) for f in said] == ([{"area_cm2": str(dressed)}] if dressed else [])


def test_less_than_a_square_centimetre_is_rounding():
    case = case_after(grafted("1999.4"))
    assert sum(w.area_cm2 for w in case.wounds) == 0
    assert "remainder-heals-by-dressing" not in {f.code for f in case.findings}


def test_a_remainder_and_a_loss_are_dressed_beside_each_other():
    wound = trunk_after(grafted(1960, take="0.97"))
    assert (wound.area_cm2, wound.excised_cm2, wound.dressed_cm2) == (0, 0, Decimal("98.8"))


def test_a_wound_that_nothing_was_grafted_on_and_one_recorded_as_open_are_no_remainder():
    """The part over the joint waits for its own session; and what is seen open is open."""
    field = burn(place(Region.THIGH, Side.LEFT), "4", over_joint_fraction=Decimal("0.03"))
    waits = wounds_of(grafted(776, where=field.place, method=GraftMethod.ISLAND_1_3), burns=(field,))
    assert waits["left-thigh-front:full-thickness:joint"].area_cm2 == 24
    seen = OpenWound(TRUNK, Decimal(30), AFTER, "entry[8]")
    case = case_after(grafted(2000), open_wounds=(seen,))
    assert sum(w.area_cm2 for w in case.wounds) == 30
