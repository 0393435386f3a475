"""Classes of wounds for the linear model: what can be grafted at all, and by which methods."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.body_region import Region
from service.domain.graft import GraftMethod
from service.evidence.library import load_evidence
from service.planning.course_classes import merged_wounds, planned_wounds
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.planning.wound_facts import WoundFacts
from service.preferences.library import load_preferences
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def face_case(*, blood_ml: int, cover_cm2: int | None = None):
    """A case with an unexcised face, no theatre days or decisions, and so much blood a session."""
    case = next(c for c in map(random_case, range(200)) if any(
        w.place.region is Region.FACE and w.excised_cm2 == 0 and w.area_cm2 > 100 for w in c.wounds))
    request = replace(case.request, cover_stock_cm2=None if cover_cm2 is None else Decimal(cover_cm2),
                      theatre_days=(), fixed_decisions=(), keep_for=(), limb_tourniquet=None)
    return replace(case, request=request, limits=replace(case.limits, blood_ml=Decimal(blood_ml)))


def face_methods(case, classes_of) -> set[GraftMethod]:
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    classes = classes_of(quantities, tuple(WoundFacts(w, quantities) for w in case.wounds))
    return {o.method for c in classes if c.wounds[0].place.region is Region.FACE for o in c.options}


def blood_for_the_face(case) -> int:
    """Least that the face costs, excised and grafted by sheet in one session. [mL]"""
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    face = next(WoundFacts(w, quantities) for w in case.wounds if w.place.region is Region.FACE)
    harvest = quantities.harvest_for(quantities.skin_hundredths(GraftMethod.SHEET, face.place, face.area))
    return int(face.excision_ml * face.area + float(quantities.blood.harvest_ml) * harvest)


@pytest.mark.parametrize("classes_of", [merged_wounds, planned_wounds])
def test_a_whole_region_that_no_session_can_hold_has_no_method(classes_of):
    needed = blood_for_the_face(face_case(blood_ml=10_000))
    assert face_methods(face_case(blood_ml=needed + 10), classes_of)
    assert not face_methods(face_case(blood_ml=needed - 10), classes_of)


def test_cover_lets_it_be_excised_before():
    needed = blood_for_the_face(face_case(blood_ml=10_000))
    assert face_methods(face_case(blood_ml=needed - 10, cover_cm2=1000), merged_wounds)


def test_the_rule_of_thumb_grafts_it_where_the_classes_say_it_can_be_and_not_where_not():
    needed = blood_for_the_face(face_case(blood_ml=10_000))
    for blood_ml, is_grafted in ((needed * 2, True), (needed - 10, False)):
        case = face_case(blood_ml=blood_ml)
        faces = {w.wound_id for w in case.wounds if w.place.region is Region.FACE}
        plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
        assert any(p.wound_id in faces for p in plan.placements) is is_grafted
