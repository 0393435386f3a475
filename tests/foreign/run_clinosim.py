"""Simulates stays in hospital into a folder: ``python -m tests.foreign.run_clinosim FOLDER``.

A process of its own: the simulator sets up logging and takes its options from the command line.
"""

from __future__ import annotations

import sys

from clinosim.simulator.cli import main

STAYS = ("industrial_burn_severe", "crush_injury_hand", "electrical_injury")
EACH, SEED = "1", "17"

if __name__ == "__main__":
    folder = sys.argv[1]
    for stay in STAYS:
        sys.argv = ["clinosim", "test-disease", stay, "-n", EACH, "-s", SEED, "--format", "fhir-r4", "-o",
                    f"{folder}/{stay}"]
        main()
