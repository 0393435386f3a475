"""Two outlines side by side: a session that shifts stays the same session; crumbs are no difference."""

from datetime import date
from decimal import Decimal

from service.domain.case import Act
from service.domain.plan_difference import CourseOutline, PlanChange, PlanChangeKind, SessionOutline
from service.planning.compare_outlines import compare_outlines

TOLERANCE = Decimal(40)


def session(day: int, skin: int | None = 300, site: str = "right-thigh-front", graft: int = 600) -> SessionOutline:
    areas = ((Act.HARVEST, site, Decimal(skin)), (Act.PLACE, "left-thigh-front", Decimal(graft))) if skin else ()
    return SessionOutline(date(2026, 3, day), Decimal(skin) if skin else None, areas)


def compare(before: list[SessionOutline], after: list[SessionOutline]) -> list[PlanChange]:
    return list(compare_outlines(CourseOutline(tuple(before)), CourseOutline(tuple(after)), TOLERANCE))


def test_the_same_course_does_not_differ():
    assert compare([session(5), session(9)], [session(5), session(9)]) == []


def test_a_session_moves():
    assert compare([session(5), session(9)], [session(5), session(12)]) == [
        PlanChange(PlanChangeKind.MOVED, date(2026, 3, 9), date(2026, 3, 12))]


def test_sessions_that_all_shift_are_not_taken_for_one_that_goes_to_the_end():
    before = [session(5, 100), session(9, 300), session(13, 500)]
    after = [session(9, 100), session(13, 300), session(17, 500)]
    assert [(c.kind, c.earlier_day.day, c.day.day) for c in compare(before, after)] == [
        (PlanChangeKind.MOVED, 5, 9), (PlanChangeKind.MOVED, 9, 13), (PlanChangeKind.MOVED, 13, 17)]


def test_a_session_comes_and_another_goes():
    assert [c.kind for c in compare([session(5)], [session(5), session(9)])] == [PlanChangeKind.ADDED]
    assert [c.kind for c in compare([session(5), session(9)], [session(9)])] == [PlanChangeKind.DROPPED]


def test_skin_from_another_site_is_named_by_place():
    (change,) = compare([session(5)], [session(5, site="left-thigh-back")])
    assert change.kind is PlanChangeKind.HARVESTED
    assert change.places == (
        ("left-thigh-back", Decimal(0), Decimal(300)), ("right-thigh-front", Decimal(300), Decimal(0)))


def test_of_later_sessions_only_the_whole_is_compared():
    changes = compare([session(5), session(9)], [session(5), session(9, 400, site="left-thigh-back")])
    assert [(c.kind, c.earlier_cm2, c.area_cm2, c.places) for c in changes] == [
        (PlanChangeKind.HARVESTED, Decimal(300), Decimal(400), ())]


def test_less_than_the_tolerance_is_no_difference():
    assert compare([session(5)], [session(5, 339)]) == []
    assert [c.area_cm2 for c in compare([session(5)], [session(5, 340)])] == [Decimal(340)]


def test_what_is_not_known_of_the_plan_before_is_not_compared():
    assert compare([session(5, None)], [session(5)]) == []


def test_the_end_of_the_course():
    before, after = CourseOutline((), date(2026, 4, 1)), CourseOutline((), date(2026, 4, 5))
    assert compare_outlines(before, after, TOLERANCE) == (
        PlanChange(PlanChangeKind.ENDS, date(2026, 4, 1), date(2026, 4, 5)),)
