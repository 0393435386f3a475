"""Random deviates that depend on what they are for and on nothing else.

Each purpose has its own stream of a counter-based generator, so that a draw is the same in
whatever order, in however many threads, and whichever other draws are made.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np

#: Courses that are played together: small enough for the processor's cache.
BLOCK = 4096


class Purpose(IntEnum):
    """What a deviate decides. The number is part of the stream: never reuse one."""

    PARAMETER = 1  # a number of the evidence that is the same through a course but not known
    PATIENT_TAKE = 2
    PATIENT_HEALING = 3
    BURN_SIZE = 4
    RATIO = 5  # by session and method
    TAKE = 6  # by session and line of the plan
    CLOSURE = 7  # by session and line of the plan
    HEALING = 8  # by session and donor site


class Draws:
    """Standard normal deviates of one block of simulated courses."""

    def __init__(self, seed: int, block: int, size: int) -> None:
        self.seed, self.block, self._drawn = seed, block, size
        self._courses = np.arange(size)

    @property
    def size(self) -> int:
        return self._courses.size

    def deviates(self, purpose: Purpose, first: int = 0, second: int = 0) -> np.ndarray:
        """One deviate for each course of the block; ``first`` and ``second`` tell apart what is drawn."""
        stream = np.random.Philox(key=[self.seed, purpose], counter=[0, self.block, first, second])
        return np.random.Generator(stream).standard_normal(self._drawn)[self._courses]


def blocks_of(count: int) -> list[tuple[int, int]]:
    """Number and size of each block of so many courses."""
    return [(start // BLOCK, min(BLOCK, count - start)) for start in range(0, count, BLOCK)]
