"""The rules of a plan hold in every simulated course, whatever is drawn."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.simulation import play
from service.simulation.held_session import HeldSession
from service.simulation.play import play_plan
from tests.simulation.books import SETTINGS, book_of, scenarios_of

COURSES = 100
CENT_CM2 = 0.01


@pytest.fixture(scope="module", autouse=True)
def _every_session_is_checked():
    """Each session is judged as it is left, before the next one."""

    class Checked(HeldSession):
        def hold(self):
            state = self.state
            cover, ahead, loaded = state.cover_left.copy(), state.ahead.copy(), state.last_loaded.copy()
            held = super().hold()
            assert_budgets(self, held)
            assert_areas_balance(self)
            excised_ahead = np.maximum(0, state.ahead.sum(axis=0) - ahead.sum(axis=0))
            assert (excised_ahead <= cover + CENT_CM2).all()  # cover the whole bed from stock
            assert_nobody_lies_on_fresh_grafts(self, loaded)
            return held

    patch = pytest.MonkeyPatch()
    patch.setattr(play, "HeldSession", Checked)
    yield
    patch.undo()


@settings(max_examples=25, deadline=None)
@given(percent=st.sampled_from([15, 30, 45, 60, 75]), setting=st.sampled_from(SETTINGS),
       patient_seed=st.integers(1, 3), seed=st.integers(1, 10**6))
def test_rules_hold_in_every_course(percent, setting, patient_seed, seed):
    book = book_of(percent, patient_seed, setting)
    played = play_plan(book, scenarios_of(COURSES, seed))
    for made in played.harvests:
        taken = made.area_cm2 > 0
        assert (made.free_day <= made.day)[taken].all()  # healed before it is taken again
        assert made.harvest_number <= book.sites[made.site].harvests_allowed
    _assert_no_site_gives_more_than_it_has(book, played)
    _assert_rest_and_theatre_days(book, played)


def _assert_no_site_gives_more_than_it_has(book, played):
    for index, site in enumerate(book.sites):
        taken = sum((area for (_, of), area in played.harvested_cm2.items() if of == index), np.zeros(COURSES))
        most = sum(p.area_cm2 * (site.harvests_allowed - p.harvest_count) for p in site.parcels)
        assert (taken <= most + CENT_CM2).all(), site.site_id


def _assert_rest_and_theatre_days(book, played):
    days = np.sort(played.session_days, axis=0)
    with np.errstate(invalid="ignore"):
        gaps = np.diff(days, axis=0)
    assert (gaps[np.isfinite(gaps)] >= book.limits.rest_days).all()
    held = played.session_days[np.isfinite(played.session_days)].astype(int)
    assert (held <= book.horizon_day).all()
    assert all(book.theatre_days[1][day] == day for day in set(held))


def assert_budgets(session, held):
    budget = session.budget
    for left in (budget.excise, budget.graft, budget.blood, budget.minutes):
        assert (left[held] >= -CENT_CM2).all()
    for skin in session.skin.values():
        assert (skin >= -CENT_CM2).all()
    for opened, site in zip(session.opened, session.book.sites, strict=True):
        assert ((opened == 0) | (opened >= site.smallest_cm2 - CENT_CM2)).all()
    assert (session.state.cover_left >= 0).all()


def assert_areas_balance(session):
    """What is grafted and what is excised never exceed the wound."""
    book, state = session.book, session.state
    for index, wound in enumerate(book.wounds):
        lines = [i for i, line in enumerate(book.lines) if line.wound == index]
        grafted = state.grafted[lines].sum(axis=0)
        assert (grafted + state.bed[index] <= wound.area_cm2 * state.scale[index] + CENT_CM2).all()
    assert (state.regraft >= -CENT_CM2).all() and (state.bed >= -CENT_CM2).all()


def assert_nobody_lies_on_fresh_grafts(session, loaded_before):
    loaded = session.state.last_loaded
    fresh = [session.day - day < session.book.limits.protect_days for day in loaded]
    newly = (loaded != loaded_before).any(axis=0)
    assert not (fresh[0] & fresh[1] & newly).any()


def test_a_smallest_harvest_is_kept():
    book = book_of(45, 1)
    played = play_plan(book, scenarios_of(COURSES))
    for (_, site), area in played.harvested_cm2.items():
        assert (area[area > 0] >= book.sites[site].smallest_cm2 - CENT_CM2).all()


def test_cover_is_used_and_counted_where_the_plan_excises_ahead():
    books = [book_of(percent, seed, SETTINGS[1]) for percent in (45, 60, 75) for seed in (1, 2, 3)]
    ahead = [book for book in books if any(session.ahead for session in book.sessions)]
    assert ahead
    for book in ahead:
        played = play_plan(book, scenarios_of(COURSES))
        assert (played.cover_days > 0).any()
