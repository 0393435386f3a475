"""``python -m tests.bench.sameness``: whether the same request gives the same bytes, run after run.

A run is a fresh process with a hash seed and an order of the samples of its own, so that neither
the order of a set nor what another patient has left in a cache can reach an answer unseen. Half
of the runs come alone, half two beside each other. The samples state the moment they are
answered for.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from random import Random

from tests.conftest import ANSWERED_SAMPLES

RUNS = 20
#: One a kind: small, large, with cover in stock, planned again after a session, with a condition beside it.
KINDS = ("hands-and-face-12-percent", "adult-60-percent-first-plan", "cover-stock-given",
         "adult-60-percent-after-session-1", "what-if")

#: SHA-256 of the answer by sample.
Hashes = Mapping[str, str]


def hashes_of_run(run: int, samples: Sequence[str], options: Sequence[str] = ()) -> Hashes:
    """What a fresh process answers; ``options`` go to ``graftstage plan``.

    Raises
    ------
    subprocess.CalledProcessError
        A sample was not answered.
    """
    order = Random(run).sample(samples, len(samples))
    ended = subprocess.run(
        [sys.executable, "-m", "tests.bench.answers_in_order", *order, *options], check=True, text=True,
        stdout=subprocess.PIPE, env={**os.environ, "PYTHONHASHSEED": str(run), "GRAFTSTAGE_DATABASE": "memory"})
    return {sample: digest for digest, sample in map(str.split, ended.stdout.splitlines())}


def hashes_of_runs(runs: int, samples: Sequence[str], options: Sequence[str] = ()) -> list[Hashes]:
    """So many runs: the first half one after another, the others two beside each other."""
    def hashes(run: int) -> Hashes:
        return hashes_of_run(run, samples, options)

    alone = runs // 2
    with ThreadPoolExecutor(2) as pool:
        return [*map(hashes, range(alone)), *pool.map(hashes, range(alone, runs))]


def distinct_answers(found: Sequence[Hashes]) -> dict[str, int]:
    """By sample, how many different answers it had; 1 is the same."""
    return {sample: len({hashes[sample] for hashes in found}) for sample in found[0]}


def main(arguments: list[str] | None = None) -> int:
    """Prints a line a sample. Returns 1 if any had more than one answer, else 0."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.sameness", description=__doc__)
    parser.add_argument("samples", nargs="*", metavar="SAMPLE", help="names of shared/samples; by default one a kind")
    parser.add_argument("--runs", type=int, default=RUNS)
    options = parser.parse_args(arguments)
    if options.runs < 2:
        parser.error("one run has nothing to differ from")
    samples = sorted(options.samples or KINDS)
    if unknown := set(samples) - {path.stem for path in ANSWERED_SAMPLES}:
        parser.error(f"no such answered sample: {', '.join(sorted(unknown))}")
    found = hashes_of_runs(options.runs, samples)
    different = distinct_answers(found)
    print(f"{'distinct':>8}  of {len(found)} runs")
    for sample, count in sorted(different.items()):
        print(f"{count:>8}  {sample}")
    return int(any(count > 1 for count in different.values()))


if __name__ == "__main__":
    sys.exit(main())
