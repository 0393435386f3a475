"""What simulated courses cost, against the plain loop, and how exact so many of them are."""

from __future__ import annotations

from dataclasses import dataclass
from time import process_time

import numpy as np

from service.simulation.course_book import CourseBook
from service.simulation.draws import Draws, blocks_of
from service.simulation.play import play_plan
from service.simulation.scenarios import Parameters, Scenarios
from service.simulation.simulate import simulate_book
from tests.simulation.books import EVIDENCE, book_of, scenarios_of
from tests.simulation.plain_loop import PlainCourse

COURSES, PLAIN_COURSES, EXACT_COURSES = 10_000, 100, 1_000_000
FIVE_SESSIONS = 5
ROUNDS = 5
SEEDS = (1, 2, 3, 4, 5)
PROBABILITIES = np.array([0.1, 0.5, 0.9])


@dataclass(frozen=True)
class SimulationCost:
    """Milliseconds of processor time for ``COURSES`` courses, by arrays and by the plain loop."""

    arrays_ms: float
    plain_ms: float

    @property
    def times_faster(self) -> float:
        return self.plain_ms / self.arrays_ms


def five_session_book() -> CourseBook:
    """An invented adult whose plan holds five firm sessions."""
    books = (book_of(percent, seed) for percent in (20, 25, 30, 35, 40) for seed in (1, 2, 3))
    return next(book for book in books if len(book.sessions) == FIVE_SESSIONS)


def measure_cost() -> SimulationCost:
    """The shortest of several rounds by arrays; the plain loop plays a hundredth of the courses."""
    book = five_session_book()

    def by_arrays() -> float:
        started = process_time()
        simulate_book(book, EVIDENCE, seed=1, count=COURSES)
        return 1000 * (process_time() - started)

    by_arrays()
    scenarios = scenarios_of(PLAIN_COURSES)
    started = process_time()
    for number in range(PLAIN_COURSES):
        PlainCourse(book, scenarios, number).play()
    plain_ms = 1000 * (process_time() - started) * COURSES / PLAIN_COURSES
    return SimulationCost(min(by_arrays() for _ in range(ROUNDS)), plain_ms)


def _graft_lost_and_skin(book: CourseBook, seed: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Graft lost, and skin harvested in all; block by block, so that a million fit into memory. [cm²]"""
    lost, skin = [], []
    for block, size in blocks_of(count):
        played = play_plan(book, Scenarios(EVIDENCE, Draws(seed, block, size), Parameters.RANGES))
        lost.append(played.failed_cm2)
        skin.append(sum(played.harvested_cm2.values()))
    return np.concatenate(lost), np.concatenate(skin)


def measure_quantile_error() -> float:
    """Typical error of low, median and high in points of probability, against a million courses."""
    book = five_session_book()
    exact = [np.sort(values) for values in _graft_lost_and_skin(book, 99, EXACT_COURSES)]
    errors = []
    for seed in SEEDS:
        for values, truth in zip(_graft_lost_and_skin(book, seed, COURSES), exact, strict=True):
            found = np.searchsorted(truth, np.quantile(values, PROBABILITIES)) / truth.size
            errors += list(100 * np.abs(found - PROBABILITIES))
    return float(np.sqrt(np.mean(np.square(errors))))
