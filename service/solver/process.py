"""Solver processes: started when first needed, kept, lent to one plan at a time, killed on overrun."""

from __future__ import annotations

import atexit
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing import Pipe
from pathlib import Path

import numpy as np

from service.solver.answer import LinearAnswer, SolverFault, SolverTimeOut
from service.solver.linear_model import LinearProgram

#: What a process may take to start, beside the time of a plan: a slow start changes no answer.
START_SECONDS = 5.0
_ROOT = Path(__file__).parents[2]


def _worker_command(descriptor: int) -> list[str]:
    return [sys.executable, "-m", "service.solver.worker", str(descriptor)]


class SolverProcess:
    """A solver behind a pipe, with the methods of ``HighsSolver``."""

    def __init__(self, command: Callable[[int], list[str]] = _worker_command) -> None:
        self._pipe, child = Pipe()
        self._process = subprocess.Popen(
            command(child.fileno()), pass_fds=[child.fileno()], cwd=_ROOT,
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
        child.close()
        self._is_over_time = False
        self.is_sound = True

    def solve(self, program: LinearProgram) -> LinearAnswer:
        return self._ask("solve", program)

    def solve_whole(self, program: LinearProgram, near: float) -> LinearAnswer:
        return self._ask("solve_whole", program, near)

    def keep(self, program: LinearProgram) -> LinearAnswer:
        return self._ask("keep", program)

    def again(self, lower: np.ndarray, upper: np.ndarray, row_upper: np.ndarray) -> LinearAnswer:
        return self._ask("again", lower, upper, row_upper)

    def _ask(self, *request) -> LinearAnswer:
        """Raises ``SolverTimeOut`` when time ended first, ``SolverFault`` when the process is gone."""
        self.is_sound = False
        try:
            self._pipe.send(request)
            answer = self._pipe.recv()
        except (OSError, EOFError) as gone:
            raise (SolverTimeOut if self._is_over_time else SolverFault)("solver process is gone") from gone
        if not isinstance(answer, LinearAnswer):
            raise SolverFault("no answer")
        self.is_sound = True
        return answer

    def end_on_overrun(self) -> None:
        """Kill the process; whoever waits for it learns that time has ended."""
        self._is_over_time = True
        self.is_sound = False
        self._process.kill()

    @property
    def has_ended(self) -> bool:
        return self._process.poll() is not None

    def close(self) -> None:
        """End the process, whatever it is doing."""
        self._pipe.close()
        self._process.kill()
        self._process.wait()


class SolverPool:
    """Idle solver processes; as many are alive as plans were ever made at once."""

    def __init__(self) -> None:
        self._idle: list[SolverProcess] = []
        self._lock = threading.Lock()

    @contextmanager
    def lend(self, seconds: float) -> Iterator[SolverProcess]:
        """A process for one plan. It goes back unless it broke or ran over its time; then it is killed."""
        with self._lock:
            idle = self._idle.pop() if self._idle else None
        solver = idle or SolverProcess()
        watch = threading.Timer(seconds if idle else seconds + START_SECONDS, solver.end_on_overrun)
        watch.daemon = True
        watch.start()
        try:
            yield solver
        finally:
            watch.cancel()
            if solver.is_sound:
                with self._lock:
                    self._idle.append(solver)
            else:
                solver.close()

    def close(self) -> None:
        """End every idle process."""
        with self._lock:
            idle, self._idle = self._idle, []
        for solver in idle:
            solver.close()


SOLVERS = SolverPool()
atexit.register(SOLVERS.close)
