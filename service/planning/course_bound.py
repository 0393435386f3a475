"""A lower bound for every plan: the relaxed model, then branching on how many sessions there are by when."""

from __future__ import annotations

from dataclasses import dataclass, replace
from heapq import heappop, heappush

import numpy as np

from service.planning.course_model import RELAXED, Course, Facts, Slots, freeze, start_model
from service.planning.course_rules import add_rules
from service.solver.answer import LinearSolver, SolverFault, believe, dual_bound
from service.solver.linear_model import LinearProgram

_WHOLE = 1e-9 * 1000 * 1000  # how near to a whole number counts as whole


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


def branch_on_days(root: Root, best_days: float, most_nodes: int, solver: LinearSolver) -> float:
    """A better bound: each branch holds at most, or more than, so many sessions up to a slot.

    Stops when the bound reaches ``best_days``, the cost of a plan in hand, or after
    ``most_nodes`` problems. A branch that fails keeps the bound of the one it came from and ends
    the search: only duals are believed, never that a branch has no solution.
    """
    columns = root.course.held_up_to
    first = believe(root.program, solver.again(root.program.lower, root.program.upper, root.program.row_upper))
    open_nodes: list = [(root.bound, 0, root.program, first.values)]
    count = 0
    while count < most_nodes and open_nodes[0][0] < best_days and open_nodes[0][-1] is not None:
        bound, _, program, values = heappop(open_nodes)
        sessions = values[columns]
        column = columns[int(np.argmax(np.abs(sessions - np.round(sessions))))]
        whole = float(np.floor(values[column] + _WHOLE))
        if values[column] - whole < _WHOLE:
            heappush(open_nodes, (bound, count, program, None))  # whole already: nothing to branch on
            break
        for low, high in ((program.lower[column], whole), (whole + 1, program.upper[column])):
            count += 1
            heappush(open_nodes, _branch(root, bound, count, _within(program, column, low, high), solver))
    return open_nodes[0][0]


def _branch(root: Root, parent_bound: float, count: int, program: LinearProgram, solver: LinearSolver) -> tuple:
    answer = solver.again(program.lower, program.upper, program.row_upper)
    try:
        believe(program, answer)
    except SolverFault:
        return parent_bound, count, program, None
    bound = max(parent_bound, dual_bound(program, answer.duals) + root.course.constant)
    return bound, count, program, answer.values


def _within(program: LinearProgram, column: int, low: float, high: float) -> LinearProgram:
    lower, upper = program.lower.copy(), program.upper.copy()
    lower[column], upper[column] = low, high
    return replace(program, lower=lower, upper=upper)
