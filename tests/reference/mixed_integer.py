"""A mixed-integer problem written down column by column and row by row, for solvers of two families."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from time import perf_counter

import highspy
import numpy as np
from pyscipopt import Model, quicksum


@dataclass(frozen=True)
class Solved:
    """What a solver found. ``objective`` and ``values`` are ``None`` where it found nothing."""

    status: str
    objective: float | None
    bound: float
    values: np.ndarray | None
    seconds: float
    nodes: int


@dataclass
class MixedInteger:
    """Minimise cost · x + constant. Columns have bounds, some are whole; rows have bounds."""

    cost: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    is_whole: list[bool] = field(default_factory=list)
    rows: list[tuple[float, float, dict[int, float]]] = field(default_factory=list)
    constant: float = 0.0

    def column(self, *, upper: float, cost: float = 0.0, lower: float = 0.0, is_whole: bool = False) -> int:
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.is_whole.append(is_whole)
        return len(self.cost) - 1

    def yes_or_no(self, cost: float = 0.0) -> int:
        return self.column(upper=1, cost=cost, is_whole=True)

    def row(self, low: float, high: float, *parts: dict[int, float]) -> None:
        joined: dict[int, float] = {}
        for part in parts:
            for column, value in part.items():
                joined[column] = joined.get(column, 0.0) + value
        self.rows.append((low, high, {c: v for c, v in joined.items() if v}))

    def solve_with_highs(self, *, seconds: float = inf, absolute_gap: float = 0.0, relative_gap: float = 0.0,
                         threads: int = 1) -> Solved:
        """Solved by HiGHS as it comes, but for the gaps at which it stops."""
        solver = highspy.Highs()
        for option, value in (("output_flag", False), ("mip_abs_gap", absolute_gap), ("mip_rel_gap", relative_gap),
                              ("threads", threads), ("time_limit", min(seconds, 1e6))):
            solver.setOptionValue(option, value)
        started = perf_counter()
        solver.passModel(self._lp())
        solver.run()
        took = perf_counter() - started
        info = solver.getInfo()
        has_plan = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
        return Solved(
            solver.modelStatusToString(solver.getModelStatus()), info.objective_function_value if has_plan else None,
            info.mip_dual_bound, np.array(solver.getSolution().col_value) if has_plan else None, took,
            max(0, info.mip_node_count))

    def _lp(self) -> highspy.HighsLp:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.rows)
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = self.cost, self.lower, self.upper
        lp.offset_ = self.constant
        lp.row_lower_ = [low for low, _, _ in self.rows]
        lp.row_upper_ = [high for _, high, _ in self.rows]
        lp.integrality_ = [highspy.HighsVarType.kInteger if whole else highspy.HighsVarType.kContinuous
                           for whole in self.is_whole]
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(terms) for _, _, terms in self.rows)])
        lp.a_matrix_.index_ = [column for _, _, terms in self.rows for column in terms]
        lp.a_matrix_.value_ = [value for _, _, terms in self.rows for value in terms.values()]
        return lp

    def solve_with_scip(self, *, seconds: float = 1e6, relative_gap: float = 0.0) -> Solved:
        """The same problem by SCIP."""
        model = Model()
        model.hideOutput()
        model.setParam("limits/gap", relative_gap)
        model.setParam("limits/time", seconds)
        columns = [model.addVar(lb=low, ub=high, vtype="I" if whole else "C") for low, high, whole in zip(
            self.lower, self.upper, self.is_whole, strict=True)]
        for low, high, terms in self.rows:
            total = quicksum(value * columns[column] for column, value in terms.items())
            if terms and low == high:
                model.addCons(total == low)
            elif terms:
                if low > -inf:
                    model.addCons(total >= low)
                if high < inf:
                    model.addCons(total <= high)
        model.setObjective(quicksum(c * x for c, x in zip(self.cost, columns, strict=True)) + self.constant)
        started = perf_counter()
        model.optimize()
        took = perf_counter() - started
        has_plan = model.getNSols() > 0
        return Solved(
            model.getStatus(), model.getObjVal() if has_plan else None, model.getDualbound(),
            np.array([model.getVal(x) for x in columns]) if has_plan else None, took, int(model.getNNodes()))
