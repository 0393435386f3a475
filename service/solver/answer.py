"""What a solver says about a linear problem, and whether it may be believed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np

from service.solver.linear_model import LinearProgram

#: How far a believed solution may miss a row or a bound, relative to its size. HiGHS solves to 1e-7.
FEASIBILITY_TOLERANCE = 1e-5
#: Rounding that a sum of products may hide, relative to the sum of their sizes.
ROUNDING = 1e-12


class SolveStatus(StrEnum):
    OPTIMAL = "optimal"
    INFEASIBLE = "infeasible"
    STOPPED = "stopped"  # a work limit
    FAILED = "failed"


@dataclass(frozen=True)
class LinearAnswer:
    """Status first: without ``OPTIMAL`` the values mean nothing."""

    status: SolveStatus
    values: np.ndarray
    duals: np.ndarray
    iterations: int = 0


class LinearSolver(Protocol):
    """Solves a problem from scratch, or keeps one warm and solves it again under other bounds."""

    def solve(self, program: LinearProgram) -> LinearAnswer: ...

    def solve_whole(self, program: LinearProgram, near: float) -> LinearAnswer: ...

    def keep(self, program: LinearProgram) -> LinearAnswer: ...

    def again(self, lower: np.ndarray, upper: np.ndarray, row_upper: np.ndarray) -> LinearAnswer: ...


class SolverFault(Exception):
    """The solver died, hung, or said something that does not stand up. Never a reason for a plan."""


class SolverTimeOut(SolverFault):
    """The time that the caller gave has ended."""


def believe(program: LinearProgram, answer: LinearAnswer) -> LinearAnswer:
    """The answer itself, if it is optimal by its own word and keeps every bound by ours.

    Raises
    ------
    SolverFault
        For any other status, missing or non-finite numbers, or values that break a row.
    """
    if answer.status is not SolveStatus.OPTIMAL:
        raise SolverFault(f"status {answer.status}")
    values, duals = answer.values, answer.duals
    if values.shape != program.cost.shape or duals.shape != program.row_lower.shape:
        raise SolverFault("wrong shape")
    if not (np.isfinite(values).all() and np.isfinite(duals).all()):
        raise SolverFault("not finite")
    activity = np.bincount(program.rows, program.values * values[program.columns], len(duals))
    size = 1 + np.bincount(program.rows, np.abs(program.values * values[program.columns]), len(duals))
    slack = FEASIBILITY_TOLERANCE
    rows_hold = (activity >= program.row_lower - slack * size) & (activity <= program.row_upper + slack * size)
    bounds_hold = (values >= program.lower - slack) & (values <= program.upper + slack)
    if not (rows_hold.all() and bounds_hold.all()):
        raise SolverFault("not feasible")
    return answer


def dual_bound(program: LinearProgram, duals: np.ndarray) -> float:
    r"""A lower bound of the program that needs no trust in who computed the duals.

    Parameters
    ----------
    program : LinearProgram
    duals : ndarray
        Any numbers, one a row.

    Returns
    -------
    float
        At most the optimum, rounding included; the better the duals, the nearer.

    Notes
    -----
    Weak duality with bounds on rows and columns: for any :math:`\lambda`

    .. math:: c x \ge \sum_i \min(\lambda_i r_i) + \sum_j \min((c - A^T \lambda)_j x_j)

    each minimum over the bounds of row or column. A multiplier that would need an infinite
    bound is taken as zero.
    """
    needs = np.where(duals > 0, program.row_lower, program.row_upper)
    multipliers = np.where(np.isfinite(needs), duals, 0.0)
    needs = np.where(np.isfinite(needs), needs, 0.0)
    entries = program.values * multipliers[program.rows]
    columns, count = program.columns, len(program.cost)
    reduced = program.cost - np.bincount(columns, entries, count)
    doubt = ROUNDING * (np.abs(program.cost) + np.bincount(columns, np.abs(entries), count))
    at_bounds = np.minimum((reduced - doubt) * program.lower, (reduced - doubt) * program.upper)
    terms = np.concatenate([multipliers * needs, at_bounds])
    return float(terms.sum() - ROUNDING * np.abs(terms).sum())
