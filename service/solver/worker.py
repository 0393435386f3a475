"""The solver in a process of its own: what hangs or crashes there is killed, not waited for."""

from __future__ import annotations

import sys
from multiprocessing.connection import Connection

from service.solver.highs import HighsSolver


def serve(pipe: Connection) -> None:
    """Answer requests ``(method, *arguments)`` until the other end closes."""
    solver = HighsSolver()
    while True:
        try:
            method, *arguments = pipe.recv()
        except EOFError:
            return
        pipe.send(getattr(solver, method)(*arguments))


if __name__ == "__main__":
    serve(Connection(int(sys.argv[1])))
