"""Courses played as arrays come out as courses played one number at a time."""

from dataclasses import replace

import numpy as np
import pytest

from service.simulation.play import play_plan
from tests.simulation.books import SETTINGS, book_of, scenarios_of
from tests.simulation.plain_loop import PlainCourse

COURSES = 60


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda s: s.name)
@pytest.mark.parametrize("percent", [20, 45, 65])
def test_every_course_agrees_draw_by_draw(percent, setting):
    book = book_of(percent, 1, setting)
    played = play_plan(book, scenarios_of(COURSES))
    scenarios = scenarios_of(COURSES)
    for number in range(COURSES):
        plain = PlainCourse(book, scenarios, number).play()
        days = plain.days + [np.inf] * (len(played.session_days) - len(plain.days))
        assert days == list(played.session_days[:, number]), number
        found = [played.closed_day[number], played.open_cm2[number], played.failed_cm2[number],
                 played.cover_days[number]]
        assert found == pytest.approx([plain.closed_day, plain.open, plain.failed, plain.cover_days], abs=1e-6), number
        assert played.cover_lapsed[number] == plain.cover_lapsed
        assert list(played.held_up[:, number]) == list(plain.held_up.values())


def test_the_courses_tried_are_not_all_alike():
    played = play_plan(book_of(65, 1), scenarios_of(COURSES))
    assert len(set(played.sessions_count)) > 1 and len(set(played.closed_day)) > 3
    assert played.held_up.any() and (played.failed_cm2 > 0).all()


def test_a_session_that_takes_no_skin_is_played():
    book = book_of(65, 1, SETTINGS[1])
    sessions = (*book.sessions[:1], replace(book.sessions[1], harvests=()), *book.sessions[2:])
    played, scenarios = play_plan(replace(book, sessions=sessions), scenarios_of(COURSES)), scenarios_of(COURSES)
    for number in range(COURSES):
        plain = PlainCourse(replace(book, sessions=sessions), scenarios, number).play()
        assert played.closed_day[number] == pytest.approx(plain.closed_day, abs=1e-6)
