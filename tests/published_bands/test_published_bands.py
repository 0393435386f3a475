"""Planned courses against published ones: the bounds that hold, and that the explanations are true."""

from collections import Counter
from statistics import median

import pytest

from service.domain.rule import Rule
from tests.published_bands.courses import ADULT_PERCENTS, PREFERENCES, Practice, adult_courses, old_courses
from tests.published_bands.table import LARGE_PERCENT, PAGE, TITLE, planned, read_bands

USUAL, SPARING = Practice.USUAL, Practice.BLOOD_SPARING
BANDS = {band["measure"]: (float(band["low"]), float(band["high"])) for band in read_bands()}


def is_in_band(measure: str, practice: Practice) -> bool:
    low, high = BANDS[measure]
    return low <= median(planned(measure, practice)) <= high


def test_every_course_closes_every_wound():
    for practice in Practice:
        courses = adult_courses(practice) + old_courses(practice)
        assert len(courses) == len(ADULT_PERCENTS) * 3 + 6
        assert all(course.open_percent == 0 and course.closure_day for course in courses)
        for course in courses:
            assert abs(sum(course.session_percents) - course.burn_percent_tbsa) < 1


@pytest.mark.parametrize("measure", ["area-of-a-session-in-the-old", "skin-for-islands"])
def test_what_is_near_the_published_band_without_an_explanation(measure):
    assert is_in_band(measure, USUAL) and is_in_band(measure, SPARING)


def test_sessions_are_smaller_than_published_because_of_blood():
    """The explanation in the table: blood holds back, and where it does not the published area is met."""
    held_back = Counter(rule for course in adult_courses(USUAL) for rule in course.binding_rules)
    assert held_back.most_common(1)[0][0] == Rule.SESSION_BLOOD
    usual, sparing = (median(planned("island-area-of-a-session", practice)) for practice in Practice)
    assert usual < sparing
    assert max(planned("island-area-of-a-session", SPARING)) > PREFERENCES.value("session-area-soft") * 9 / 10


def test_the_area_limit_holds_once_blood_does_not():
    largest = [max(course.session_percents) for course in adult_courses(SPARING)]
    limit = PREFERENCES.value("session-area-soft")
    assert all(area <= limit for area in largest)
    assert median(largest) > limit * 9 / 10


@pytest.mark.parametrize("measure", ["island-sessions", "sessions-of-the-largest-burns"])
def test_sessions_are_more_than_published_for_the_same_reason(measure):
    assert median(planned(measure, USUAL)) > median(planned(measure, SPARING))
    assert is_in_band(measure, SPARING)


def test_more_room_in_a_session_never_makes_more_sessions():
    for usual, sparing in zip(adult_courses(USUAL), adult_courses(SPARING), strict=True):
        assert len(sparing.session_percents) <= len(usual.session_percents)


def test_islands_are_for_burns_that_leave_little_skin():
    smallest, largest = min(ADULT_PERCENTS), max(ADULT_PERCENTS)
    for course in adult_courses(USUAL):
        if course.burn_percent_tbsa == smallest:
            assert not course.island_percents
        if course.burn_percent_tbsa == largest:
            assert course.island_percents


def test_larger_burns_close_later_and_none_later_than_published():
    by_size = {percent: median(c.closure_day for c in adult_courses(USUAL) if c.burn_percent_tbsa == percent)
               for percent in ADULT_PERCENTS}
    assert list(by_size.values()) == sorted(by_size.values())
    low, high = BANDS["closure"]
    assert max(by_size.values()) <= high
    assert all(low <= day for percent, day in by_size.items() if percent >= LARGE_PERCENT)


def test_the_page_explains_every_band():
    section = PAGE.read_text(encoding="utf-8").split(f"\n## {TITLE}\n", 1)[1].split("\n## ", 1)[0]
    for band in read_bands():
        assert band["why"] and band["why"] in section
