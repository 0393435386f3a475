"""A lower bound for every plan: the relaxed model, then cases by when sessions are held and how the patient lies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from heapq import heappop, heappush

import numpy as np

from service.domain.body_region import Position
from service.planning.course_model import RELAXED, Course, Facts, Slots, freeze, start_model
from service.planning.course_rules import add_rules
from service.planning.work import WorkEnded
from service.solver.answer import LinearSolver, SolverFault, believe, dual_bound
from service.solver.linear_model import LinearProgram

_WHOLE = 1e-9 * 1000 * 1000  # how near to a whole number counts as whole
_LEAST_LAIN_ON = 0.1  # a smaller area is not worth cases of its own. [%TBSA]


@dataclass(frozen=True)
class Root:
    """The relaxed model with its first solution and bound. [%TBSA-days]"""

    course: Course
    program: LinearProgram
    held: np.ndarray
    bound: float


def solve_root(facts: Facts, slots: Slots, open_at_most: float, solver: LinearSolver) -> Root:
    """The relaxed model for plans that leave at most so much area open, kept warm.

    ``open_at_most`` in %TBSA: what some plan leaves, so that the model has a solution.
    """
    course = add_rules(start_model(facts, slots, RELAXED))
    program = freeze(course)
    row_upper = program.row_upper.copy()
    row_upper[course.open_row] = open_at_most + 1e-9
    program = replace(program, row_upper=row_upper)
    answer = believe(program, solver.keep(program))
    return Root(course, program, answer.values[course.held], dual_bound(program, answer.duals) + course.constant)


def least_open(root: Root, solver: LinearSolver) -> float:
    """A lower bound of the area that any plan leaves open. [%TBSA]"""
    cost = np.zeros_like(root.program.cost)
    columns = root.course.left_open
    cost[columns[columns >= 0]] = 1.0
    program = replace(root.program, cost=cost)
    answer = believe(program, solver.solve(program))
    return max(0.0, dual_bound(program, answer.duals))


def branch(root: Root, best_days: float, most_nodes: int, solver: LinearSolver) -> float:
    """A better bound: cases that together are every plan, each with the relaxed model's bound; the least counts.

    A case holds at most, or more than, so many sessions up to a slot; or it has no graft on the
    back in a slot, or none on the front near it. Either may matter more, so both come first once.

    Parameters
    ----------
    root : Root
    best_days : the cost of a plan in hand: no better bound is wanted. [%TBSA-days]
    most_nodes : problems solved for each of the two
    solver : keeps the root's problem warm
    """
    bound = root.bound
    try:
        for splits in ((_by_lying, _by_count), (_by_count, _by_lying)):
            bound = max(bound, _branch_by(splits, root, best_days, most_nodes, solver))
            if bound >= best_days:
                break
    except WorkEnded:
        pass  # what is proven by then is proven
    return bound


def _branch_by(splits: tuple, root: Root, best_days: float, most_nodes: int, solver: LinearSolver) -> float:
    """The bound by the first way of splitting that applies to a case, least bound first.

    A case that fails keeps the bound of the one it came from and ends the search: only duals are
    believed, never that a case has no solution.
    """
    first = believe(root.program, solver.again(root.program.lower, root.program.upper, root.program.row_upper))
    open_cases: list = [(root.bound, 0, root.program, first.values)]
    count = 0
    while count < most_nodes and open_cases[0][0] < best_days and open_cases[0][-1] is not None:
        bound, _, program, values = heappop(open_cases)
        parts = next((parts for split in splits if (parts := split(root.course, program, values))), None)
        if parts is None:
            heappush(open_cases, (bound, count, program, None))
            break
        try:
            solved = [_solved(root, bound, count + order, part, solver) for order, part in enumerate(parts)]
        except WorkEnded:
            return bound
        count += len(solved)
        for case in solved:
            heappush(open_cases, case)
    return open_cases[0][0]


def _solved(root: Root, parent_bound: float, count: int, program: LinearProgram, solver: LinearSolver) -> tuple:
    answer = solver.again(program.lower, program.upper, program.row_upper)
    try:
        believe(program, answer)
    except SolverFault:
        return parent_bound, count, program, None
    bound = max(parent_bound, dual_bound(program, answer.duals) + root.course.constant)
    return bound, count, program, answer.values


def _by_count(course: Course, program: LinearProgram, values: np.ndarray) -> list[LinearProgram]:
    """Cases by how many sessions there are up to the slot where that is least whole."""
    sessions = values[course.held_up_to]
    column = course.held_up_to[int(np.argmax(np.abs(sessions - np.round(sessions))))]
    whole = float(np.floor(values[column] + _WHOLE))
    if values[column] - whole < _WHOLE:
        return []
    return [_within(program, column, program.lower[column], whole),
            _within(program, column, whole + 1, program.upper[column])]


def _within(program: LinearProgram, columns, low: float, high: float) -> LinearProgram:
    lower, upper = program.lower.copy(), program.upper.copy()
    lower[columns], upper[columns] = low, high
    return replace(program, lower=lower, upper=upper)


def _by_lying(course: Course, program: LinearProgram, values: np.ndarray) -> list[LinearProgram]:
    """Cases by what would be lain on: no graft on one side in a slot, or none on the other so near that it must be."""
    sides = {pose: grafts_loaded(course, pose) for pose in Position}
    area = {pose: np.where(columns >= 0, values[columns], 0.0).sum(axis=0) for pose, columns in sides.items()}
    near = too_near(course)
    # by slot: the smaller of what is grafted on one side in it and on the other near it
    lain_on = {pose: np.minimum(area[pose], (near * area[pose.other][None, :]).sum(axis=1)) for pose in Position}
    pose = max(Position, key=lambda p: lain_on[p].max(initial=0.0))
    if lain_on[pose].max(initial=0.0) < _LEAST_LAIN_ON:
        return []
    slot = int(lain_on[pose].argmax())
    here, there = sides[pose][:, slot], sides[pose.other][:, near[slot]]
    return [_within(program, here[here >= 0], 0.0, 0.0), _within(program, there[there >= 0], 0.0, 0.0)]


def grafts_loaded(course: Course, pose: Position) -> np.ndarray:
    """Columns of grafts that bear weight lying so, by option and slot."""
    loaded = np.array([w.loaded is pose for w in course.facts.wounds], bool)
    return course.grafted[loaded[course.option_class]]


def too_near(course: Course) -> np.ndarray:
    """By pairs of slots: whether all their days are nearer than a graft is protected."""
    first, last = course.slots.first, course.slots.last
    apart = np.maximum(last[:, None] - first[None, :], last[None, :] - first[:, None])
    return apart < course.facts.quantities.protect_days
