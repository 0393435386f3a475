"""A region that is grafted whole or not at all, and that no session can hold."""

from dataclasses import replace

import numpy as np
import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region
from service.domain.patient import BirthDate
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.simulation.course_book import write_book
from service.simulation.play import play_plan
from tests.records import burn, measured, patient, place, record, request
from tests.simulation.books import EVIDENCE, PREFERENCES, scenarios_of

INFANT = patient(birth_date=BirthDate(2025, 1, 1), weight_kg=measured("9"), height_cm=measured("75"))


def test_no_session_is_held_for_a_whole_region_that_cannot_be_done():
    """The face of an infant loses more blood than a session may: where it stays as large, nobody harvests for it."""
    burned = record(burn(place(Region.FACE), "8"), burn(place(Region.ANTERIOR_TRUNK), "5"), patient=INFANT)
    case = assess_case(burned, request(), EVIDENCE, PREFERENCES)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    assert {p.wound_id for p in plan.placements} == {"anterior-trunk:full-thickness"}
    played = play_plan(write_book(PlanningQuantities(case, EVIDENCE, PREFERENCES), plan), scenarios_of(400))
    held = np.isfinite(played.session_days)
    assert (played.grafted_cm2[held] > 0).all()
    assert (~np.isfinite(played.closed_day)).mean() > 0.9


@pytest.mark.parametrize("all_matched", [True, False])
def test_a_face_that_is_not_planned_to_match_may_be_finished_with_any_skin(all_matched):
    """Skin from above the clavicle is insisted on only as long as the plan itself has enough of it."""
    case = assess_case(record(burn(place(Region.FACE), "2")), request(), EVIDENCE, PREFERENCES)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    (whole,) = (p for p in plan.placements if not p.is_regraft)
    half = replace(whole, area_cm2=whole.area_cm2 / 2)
    classes = [replace(whole.skin_class, above_clavicle=above) for above in (True, all_matched)]
    split = replace(plan, placements=tuple(replace(half, skin_class=one) for one in classes))
    book = write_book(PlanningQuantities(case, EVIDENCE, PREFERENCES), split)
    assert {line.later_class.above_clavicle for line in book.lines} == {all_matched}
