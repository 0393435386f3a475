"""A solver of another family on the optimiser's own matrix: the same optimum, and no bound above it."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from service.domain.body_region import Position
from service.planning.choose_days import course_slots
from service.planning.course_bound import Root, branch, grafts_loaded, solve_root, too_near
from service.planning.course_classes import merged_sites, merged_wounds
from service.planning.course_model import Facts
from service.planning.quantities import PlanningQuantities
from service.planning.wound_facts import WoundFacts
from service.solver.highs import HighsSolver
from service.solver.linear_model import LinearProgram
from tests.reference.case_numbers import CaseNumbers
from tests.reference.mixed_integer import MixedInteger
from tests.reference.plain_formulation import PlainFormulation
from tests.reference.planned import EVIDENCE, PREFERENCES, thumb_plan
from tests.reference.tiny_cases import tiny_case

SAMPLE = ("synthetic/0", "synthetic/8", "synthetic/41", "synthetic/63", "real/20", "real/140")
#: Spans of days at the beginning that are as long as the rest; few, so that days can be whole soon.
SINGLE_DAYS, FINE_SLOTS = 0, 8
NODES = 30
#: Both solvers keep rows to about 1e-6.
TOLERANCE = 1e-6


@lru_cache(maxsize=len(SAMPLE))
def root_of(name: str) -> tuple[Root, HighsSolver]:
    """The relaxed model of a frozen case, as the optimiser makes it, for plans as open as the rule of thumb's."""
    case, plan = thumb_plan(name)
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    wounds = merged_wounds(quantities, tuple(WoundFacts(wound, quantities) for wound in case.wounds))
    facts = Facts(quantities, wounds, merged_sites(quantities), case.first_session_day)
    solver = HighsSolver()
    return solve_root(facts, course_slots(facts, SINGLE_DAYS, FINE_SLOTS),
                      float(case.percent_tbsa(plan.open_cm2)), solver), solver


def exported(program: LinearProgram, constant: float, whole: np.ndarray) -> MixedInteger:
    """The matrix as it stands; the columns of ``whole`` must be whole numbers."""
    is_whole = np.zeros(len(program.cost), bool)
    is_whole[whole] = True
    rows: list[dict[int, float]] = [{} for _ in program.row_lower]
    for row, column, value in zip(program.rows, program.columns, program.values, strict=True):
        rows[row][int(column)] = float(value)
    return MixedInteger(
        program.cost.tolist(), program.lower.tolist(), program.upper.tolist(), is_whole.tolist(),
        list(zip(program.row_lower.tolist(), program.row_upper.tolist(), rows, strict=True)), constant)


@pytest.mark.parametrize("name", SAMPLE)
def test_the_relaxed_model_has_one_optimum(name):
    root, _ = root_of(name)
    by_scip = exported(root.program, root.course.constant, np.array([], int)).solve_with_scip()
    assert by_scip.status == "optimal"
    assert root.bound == pytest.approx(by_scip.objective, rel=TOLERANCE)


def with_lying(problem: MixedInteger, root: Root) -> MixedInteger:
    """The problem with a choice for each slot: front, back or neither; and no two sides so near that one is lain on."""
    areas = sum(wound.area for wound in root.course.facts.wounds)
    chosen = {pose: [problem.yes_or_no() for _ in range(len(root.course.slots))] for pose in Position}
    for pose, slots in chosen.items():
        for slot, columns in zip(slots, grafts_loaded(root.course, pose).T, strict=True):
            problem.row(float("-inf"), 0.0, {int(column): 1.0 for column in columns if column >= 0}, {slot: -areas})
    one, other = Position
    for slot, near in zip(chosen[one], too_near(root.course), strict=True):
        for at in np.flatnonzero(near):
            problem.row(float("-inf"), 1.0, {slot: 1.0}, {chosen[other][at]: 1.0})
    return problem


@pytest.mark.parametrize("name", SAMPLE)
def test_branching_never_goes_above_the_optimum_over_whole_days(name):
    root, solver = root_of(name)
    whole = root.course.held_up_to[root.course.held_up_to >= 0]
    problem = exported(root.program, root.course.constant, whole)
    by_scip = with_lying(problem, root).solve_with_scip(seconds=20)
    assert by_scip.objective is not None
    bound = branch(root, float("inf"), NODES, solver)
    assert root.bound <= bound <= by_scip.objective * (1 + TOLERANCE)


@pytest.mark.parametrize("seed", range(0, 40, 4))
def test_the_exact_problems_have_one_optimum(seed):
    """The problems of the exhaustive search, by both solvers: every theatre day may be a session."""
    case = tiny_case(seed)
    days = [case.day_of(theatre.day) for theatre in case.request.theatre_days]
    problem = PlainFormulation(CaseNumbers(case, EVIDENCE, PREFERENCES), days, patches=False).problem
    by_highs, by_scip = problem.solve_with_highs(), problem.solve_with_scip()
    assert (by_highs.status, by_scip.status) == ("Optimal", "optimal")
    assert by_highs.objective == pytest.approx(by_scip.objective, rel=TOLERANCE)
