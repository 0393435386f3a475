"""Linear problems solved by HiGHS: the only file that imports it."""

from __future__ import annotations

from dataclasses import replace

import highspy
import numpy as np

from service.solver.answer import LinearAnswer, SolveStatus
from service.solver.linear_model import LinearProgram

#: Work limit of one linear problem: some twenty times what the largest of the benchmarks needs.
ITERATION_LIMIT = 50_000
_NONE = np.empty(0)
_NO_ANSWER = LinearAnswer(SolveStatus.FAILED, _NONE, _NONE)
#: Branches of one problem with whole numbers; what is found by then is the answer.
NODE_LIMIT = 200
#: The problems are small: what searches for solutions beside the branching takes longer than it saves.
_BRANCHING = {
    "presolve": "on", "mip_max_nodes": NODE_LIMIT, "mip_rel_gap": 0.0, "mip_detect_symmetry": False,
    "mip_allow_restart": False, "mip_heuristic_run_feasibility_jump": False, "mip_heuristic_run_rins": False,
    "mip_heuristic_run_rens": False, "mip_heuristic_run_root_reduced_cost": False,
}
_STATUS = {
    highspy.HighsModelStatus.kOptimal: SolveStatus.OPTIMAL,
    highspy.HighsModelStatus.kInfeasible: SolveStatus.INFEASIBLE,
    highspy.HighsModelStatus.kIterationLimit: SolveStatus.STOPPED,
    highspy.HighsModelStatus.kSolutionLimit: SolveStatus.STOPPED,
}


class HighsSolver:
    """Keeps one problem warm and solves others beside it.

    Options are set once: changing the number of threads makes later runs fail in silence.
    There is no time limit: HiGHS counts it over the whole life of an object. The process
    around this one is what is bounded in time.
    """

    def __init__(self) -> None:
        self._warm: tuple[highspy.Highs, LinearProgram] | None = None
        self._beside = _new_highs()

    def solve(self, program: LinearProgram) -> LinearAnswer:
        """Solve a problem from scratch; what is kept warm stays so."""
        return _run(self._beside, program)

    def solve_whole(self, program: LinearProgram, near: float) -> LinearAnswer:
        """A solution in whole numbers where the problem asks for them, at most ``near`` from the best, if found.

        It has no duals: zeros stand for them, from which nothing better than a true bound follows.
        """
        highs = _new_highs()
        for option, value in {**_BRANCHING, "mip_abs_gap": near}.items():
            highs.setOptionValue(option, value)
        return _whole_answer(highs) if _pass(program, highs) else _NO_ANSWER

    def keep(self, program: LinearProgram) -> LinearAnswer:
        """Solve a problem and keep it warm for ``again``."""
        highs = _new_highs()
        self._warm = (highs, program)
        return _run(highs, program)

    def again(self, lower: np.ndarray, upper: np.ndarray, row_upper: np.ndarray) -> LinearAnswer:
        """Solve the kept problem under other bounds, from where it stands."""
        highs, program = self._warm
        count, rows = len(lower), len(row_upper)
        highs.changeColsBounds(count, np.arange(count, dtype=np.int32), lower, upper)
        for row in np.flatnonzero(row_upper != program.row_upper):
            highs.changeRowBounds(int(row), float(program.row_lower[row]), float(row_upper[row]))
        self._warm = (highs, replace(program, lower=lower, upper=upper, row_upper=row_upper))
        assert rows == len(program.row_upper)
        return _answer(highs)


def _new_highs() -> highspy.Highs:
    highs = highspy.Highs()
    for option, value in {
        "output_flag": False, "threads": 1, "presolve": "off", "solver": "simplex", "simplex_strategy": 1,
        "simplex_iteration_limit": ITERATION_LIMIT, "random_seed": 0,
    }.items():
        highs.setOptionValue(option, value)
    return highs


def _run(highs: highspy.Highs, program: LinearProgram) -> LinearAnswer:
    return _answer(highs) if _pass(program, highs) else _NO_ANSWER


def _pass(program: LinearProgram, highs: highspy.Highs) -> bool:
    """Hand the problem over; ``False`` when it is not taken."""
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(program.cost), len(program.row_lower)
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = program.cost, program.lower, program.upper
    lp.row_lower_, lp.row_upper_ = program.row_lower, program.row_upper
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    if program.is_whole is not None:
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        lp.integrality_ = [kinds[int(whole)] for whole in program.is_whole]
    lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = program.starts, program.rows, program.values
    return highs.passModel(lp) is not highspy.HighsStatus.kError


def _answer(highs: highspy.Highs) -> LinearAnswer:
    """Run, and read the status before any value."""
    status = _end_of_run(highs)
    if status is not SolveStatus.OPTIMAL:
        return LinearAnswer(status, _NONE, _NONE)
    solution = highs.getSolution()
    return LinearAnswer(status, np.array(solution.col_value), np.array(solution.row_dual),
                        highs.getInfo().simplex_iteration_count)


def _whole_answer(highs: highspy.Highs) -> LinearAnswer:
    """Run; the best solution that was found, also when branching stopped at its limit."""
    status, info = _end_of_run(highs), highs.getInfo()
    is_found = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    if status not in (SolveStatus.OPTIMAL, SolveStatus.STOPPED) or not is_found:
        return LinearAnswer(SolveStatus.FAILED if status is SolveStatus.OPTIMAL else status, _NONE, _NONE)
    values = np.array(highs.getSolution().col_value)
    return LinearAnswer(SolveStatus.OPTIMAL, values, np.zeros(highs.getNumRow()), info.simplex_iteration_count)


def _end_of_run(highs: highspy.Highs) -> SolveStatus:
    """How a run ends; one that reports an error has no result, whatever else it says."""
    ran = highs.run()
    return SolveStatus.FAILED if ran is highspy.HighsStatus.kError else _STATUS.get(
        highs.getModelStatus(), SolveStatus.FAILED)
