"""Counted work of a search: what ends it, so that the clock hardly ever does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.solver.answer import LinearAnswer, LinearSolver
from service.solver.limits import SEARCH
from service.solver.linear_model import LinearProgram


class WorkEnded(Exception):
    """The work that the search was given is done."""


@dataclass
class WorkCounts:
    """``size``: columns and rows of all problems solved."""

    problems: int = 0
    iterations: int = 0
    size: int = 0

    @property
    def work(self) -> int:
        """What a limit counts: building grows with the size, solving with the iterations."""
        return self.size + SEARCH.work_an_iteration * self.iterations


class CountingSolver:
    """Counts what a solver is asked; refuses beyond a limit."""

    def __init__(self, solver: LinearSolver, work_limit: int) -> None:
        self._solver, self.work_limit = solver, work_limit
        self._kept_size = 0
        self.counts = WorkCounts()

    def solve(self, program: LinearProgram) -> LinearAnswer:
        return self._count(_size(program), lambda: self._solver.solve(program))

    def solve_whole(self, program: LinearProgram, near: float) -> LinearAnswer:
        return self._count(_size(program), lambda: self._solver.solve_whole(program, near),
                           SEARCH.whole_iterations)

    def keep(self, program: LinearProgram) -> LinearAnswer:
        self._kept_size = _size(program)
        return self._count(self._kept_size, lambda: self._solver.keep(program))

    def again(self, lower: np.ndarray, upper: np.ndarray, row_upper: np.ndarray) -> LinearAnswer:
        return self._count(self._kept_size // SEARCH.again_share, lambda: self._solver.again(lower, upper, row_upper))

    def with_limit(self, work_limit: int) -> CountingSolver:
        """The same solver and counts under another limit."""
        other = CountingSolver(self._solver, work_limit)
        other.counts = self.counts
        return other

    def _count(self, size: int, ask, price: int = 1) -> LinearAnswer:
        """Raises ``WorkEnded`` when the limit is used up."""
        if self.counts.work > self.work_limit:
            raise WorkEnded
        answer = ask()
        self.counts.problems += 1
        self.counts.size += size
        self.counts.iterations += price * answer.iterations
        return answer


def _size(program: LinearProgram) -> int:
    return len(program.cost) + len(program.row_lower)
