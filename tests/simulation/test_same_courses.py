"""The same seed gives the same courses: in blocks, in threads, in any order, narrowed or not."""

import numpy as np
import pytest

from service.simulation import draws
from service.simulation.chosen_courses import at_courses
from service.simulation.course_state import CourseState
from service.simulation.draws import Draws, Purpose, blocks_of
from service.simulation.play import play_plan
from service.simulation.scenarios import Parameters
from service.simulation.simulate import simulate_book
from tests.simulation.books import EVIDENCE, book_of, scenarios_of

COUNT = 700


def bytes_of(simulated) -> bytes:
    played = simulated.played
    arrays = [played.session_days, played.closed_day, played.open_cm2, played.failed_cm2, played.surplus_cm2,
              played.cover_days, played.held_up, *(area for _, area in sorted(played.harvested_cm2.items())),
              *(need.total for need in simulated.needs)]
    return b"".join(array.tobytes() for array in arrays)


def simulate(threads: int = 1, seed: int = 1, parameters: Parameters = Parameters.RANGES) -> bytes:
    return bytes_of(simulate_book(book_of(45, 1), EVIDENCE, seed=seed, count=COUNT, parameters=parameters,
                                  threads=threads))


def test_one_and_two_threads_give_the_same_bytes(monkeypatch):
    monkeypatch.setattr(draws, "BLOCK", 256)
    assert len(blocks_of(COUNT)) == 3
    assert simulate(threads=1) == simulate(threads=2) == simulate(threads=1)


def test_another_seed_and_other_parameters_give_other_courses():
    assert len({simulate(), simulate(seed=2), simulate(parameters=Parameters.VALUES)}) == 3


@pytest.mark.parametrize("count", [1, 255, 256, 257, 10_000])
def test_blocks_hold_every_course_once(count, monkeypatch):
    monkeypatch.setattr(draws, "BLOCK", 256)
    assert sum(size for _, size in blocks_of(count)) == count
    assert [number for number, _ in blocks_of(count)] == list(range(len(blocks_of(count))))


def test_streams_do_not_meet():
    drawn = [Draws(seed, block, 64).deviates(purpose, first, second).tobytes()
             for seed in (1, 2) for block in (0, 1) for purpose in Purpose for first in (0, 1) for second in (0, 1)]
    assert len(set(drawn)) == len(drawn)


def test_a_long_block_begins_like_a_short_one():
    short, long = (Draws(7, 0, size).deviates(Purpose.TAKE, 3, 4) for size in (10, 100))
    assert (short == long[:10]).all()


def test_chosen_courses_go_on_as_they_would_have():
    """What is shared inside a state stays shared in the copy, and draws are those of the chosen courses."""
    book, size = book_of(45, 1), 50
    state = CourseState(book, scenarios_of(size))
    chosen = np.array([3, 17, 40])
    copy = at_courses(state, chosen, size)
    assert copy.book is book and copy.scenarios is copy.skin.scenarios and copy.scenarios is not state.scenarios
    for purpose in Purpose:
        whole = state.scenarios.draws.deviates(purpose, 1, 2)
        assert (copy.scenarios.draws.deviates(purpose, 1, 2) == whole[chosen]).all()
    copy.grafted += 1
    copy.skin.parcels[0][0].area_cm2 += 1
    assert not state.grafted.any()
    assert copy.skin.parcels[0][0].area_cm2[0] == state.skin.parcels[0][0].area_cm2[3] + 1


def test_played_courses_are_those_of_a_smaller_block():
    book = book_of(45, 1)
    few, many = play_plan(book, scenarios_of(40)), play_plan(book, scenarios_of(160))
    assert (few.closed_day == many.closed_day[:40]).all()
    assert (few.failed_cm2 == many.failed_cm2[:40]).all()
