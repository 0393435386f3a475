"""A region that is grafted whole or not at all, and that no session can hold."""

import numpy as np

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
