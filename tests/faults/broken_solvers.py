"""Solvers that fail in every way a solver can, behind the same interface as the real one."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from service.solver.answer import LinearAnswer, SolverFault, SolveStatus
from service.solver.highs import HighsSolver
from service.solver.process import SolverProcess

Spoil = Callable[[LinearAnswer], LinearAnswer]


class SpoiledSolver:
    """The real solver, its answers spoiled from the n-th problem on."""

    def __init__(self, spoil: Spoil, after: int = 0) -> None:
        self._real, self._spoil, self._left = HighsSolver(), spoil, after

    def solve(self, program):
        return self._answer(self._real.solve(program))

    def solve_whole(self, program, near):
        return self._answer(self._real.solve_whole(program, near))

    def keep(self, program):
        return self._answer(self._real.keep(program))

    def again(self, lower, upper, row_upper):
        return self._answer(self._real.again(lower, upper, row_upper))

    def _answer(self, answer: LinearAnswer) -> LinearAnswer:
        self._left -= 1
        return answer if self._left >= 0 else self._spoil(answer)


class Lends:
    """Stands in for the pool of solver processes."""

    def __init__(self, solver) -> None:
        self._solver = solver

    @contextmanager
    def lend(self, seconds: float) -> Iterator:
        yield self._solver


def _dies(answer: LinearAnswer) -> LinearAnswer:
    raise SolverFault("gone")


SPOILS: dict[str, Spoil] = {
    "zeros": lambda a: replace(a, values=np.zeros_like(a.values), duals=np.zeros_like(a.duals)),
    "not-a-number": lambda a: replace(a, values=np.full_like(a.values, np.nan)),
    "duals-not-a-number": lambda a: replace(a, duals=np.full_like(a.duals, np.nan)),
    "error-status": lambda a: LinearAnswer(SolveStatus.FAILED, np.empty(0), np.empty(0)),
    "early-stop": lambda a: replace(a, status=SolveStatus.STOPPED),
    "wrong-infeasible": lambda a: replace(a, status=SolveStatus.INFEASIBLE),
    "too-much": lambda a: replace(a, values=a.values * 2),
    "duals-made-up": lambda a: replace(a, duals=np.full_like(a.duals, 1000.0)),
    "duals-turned-round": lambda a: replace(a, duals=-a.duals),
    "too-short": lambda a: replace(a, values=a.values[:-1]),
    "dies": _dies,
}


def process_that(code: str) -> SolverProcess:
    """A solver process that runs the code instead of a solver."""
    return SolverProcess(lambda descriptor: [sys.executable, "-c", code, str(descriptor)])
