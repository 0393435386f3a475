"""Ratios on a busy machine: interleaved blocks, median of the paired ratios."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter

ROUNDS = 15


def milliseconds(call: Callable[[], object]) -> float:
    started = perf_counter()
    call()
    return 1000 * (perf_counter() - started)


def median_milliseconds(call: Callable[[], object], rounds: int = ROUNDS) -> float:
    call()
    return median(milliseconds(call) for _ in range(rounds))


def paired(ours: Callable[[], object], reference: Callable[[], object]) -> tuple[float, float, float]:
    """Median milliseconds of both, and the median ratio; measured A B B A, so that drift cancels."""
    ours(), reference()
    our_times, reference_times, ratios = [], [], []
    for _ in range(ROUNDS):
        block = [milliseconds(call) for call in (ours, reference, reference, ours)]
        our_times.append((block[0] + block[3]) / 2)
        reference_times.append((block[1] + block[2]) / 2)
        ratios.append(our_times[-1] / reference_times[-1])
    return median(our_times), median(reference_times), median(ratios)
