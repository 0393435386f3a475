"""Whatever the solver does: no plan leaves that breaks a rule, no bound that is above a plan."""

import threading
import time

import pytest

from service.domain.plan import PlanOutcome, SearchEnd
from service.evidence.library import load_evidence
from service.planning.optimise import optimise_course
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.solver.process import SolverPool
from service.verification.verify import verify_plan
from tests.faults.broken_solvers import SPOILS, Lends, SpoiledSolver, process_that
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
SEED = 27


def optimise(solvers, seed=SEED, seconds=2):
    case = random_case(seed)
    thumb = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)
    found = optimise_course(
        case, EVIDENCE, PREFERENCES, thumb, seconds=seconds, solvers=solvers,
        accepts=lambda plan: not verify_plan(case, plan, EVIDENCE, PREFERENCES))
    assert not verify_plan(case, found.plan, EVIDENCE, PREFERENCES)
    assert (found.plan.open_cm2, found.objective_days) <= (thumb.plan.open_cm2, thumb.objective_days)
    assert found.bound_days is None or found.bound_days <= found.objective_days
    return found, thumb


@pytest.mark.parametrize("after", [0, 1, 5, 40])
@pytest.mark.parametrize("name", SPOILS)
def test_a_broken_solver_gives_no_wrong_plan_and_no_wrong_bound(name, after):
    found, _ = optimise(Lends(SpoiledSolver(SPOILS[name], after)))
    best, _ = optimise(Lends(SpoiledSolver(lambda answer: answer)))
    assert found.bound_days is None or found.bound_days <= best.objective_days


@pytest.mark.parametrize("name", sorted(set(SPOILS) - {"duals-made-up", "duals-turned-round"}))
def test_without_a_solution_the_rule_of_thumb_leaves_with_its_label(name):
    found, thumb = optimise(Lends(SpoiledSolver(SPOILS[name])))
    assert found.outcome is PlanOutcome.RULE_OF_THUMB
    assert found.search_end is SearchEnd.FAULT
    assert found.plan == thumb.plan
    assert found.bound_days is None and found.gap is None


def test_made_up_duals_prove_nothing():
    found, _ = optimise(Lends(SpoiledSolver(SPOILS["duals-made-up"])))
    assert found.outcome is not PlanOutcome.OPTIMAL


class PoolOf(SolverPool):
    """A pool whose first process is the one given."""

    def __init__(self, process) -> None:
        super().__init__()
        self._idle.append(process)


@pytest.mark.parametrize(("code", "end"), [
    ("import time; time.sleep(60)", SearchEnd.CLOCK),
    ("while True: pass", SearchEnd.CLOCK),
    ("raise SystemExit(3)", SearchEnd.FAULT),
    ("import os; os.kill(os.getpid(), 9)", SearchEnd.FAULT),
    ("import sys; from multiprocessing.connection import Connection as C; p = C(int(sys.argv[1])); p.recv(); p.send(1)",
     SearchEnd.FAULT),
])
def test_a_process_that_hangs_or_dies_is_left_behind(code, end):
    process = process_that(code)
    pool = PoolOf(process)
    started = time.monotonic()
    found, thumb = optimise(pool, seconds=0.2)
    assert time.monotonic() - started < 5
    assert (found.outcome, found.search_end) == (PlanOutcome.RULE_OF_THUMB, end)
    assert found.plan == thumb.plan
    assert process.has_ended
    again, _ = optimise(pool)
    assert again.search_end is SearchEnd.WORK
    pool.close()


def test_plans_at_once_each_have_a_process_and_none_is_left():
    pool, found = SolverPool(), []
    threads = [threading.Thread(target=lambda: found.append(optimise(pool)[0])) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({plan.objective_days for plan in found}) == 1 and len(found) == 3
    idle = list(pool._idle)
    pool.close()
    assert idle and all(process.has_ended for process in idle)
