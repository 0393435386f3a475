"""Memory of a running service: a process of its own, asked a bounded number of times over loopback."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import httpx2 as httpx

from tests.conftest import SAMPLES

REQUESTS = 1_000
FHIR = {"Content-Type": "application/fhir+json"}
SMALL, INCOMPLETE = "hands-and-face-12-percent", "missing-weight"


def resident_megabytes(process_id: int) -> float:
    status = Path(f"/proc/{process_id}/status").read_text()
    return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1024


def measure_memory() -> tuple[float, float]:
    """Resident memory after the first ten requests and after a thousand. [MB]"""
    command = [sys.executable, "-m", "service.cli", "serve", "--or-free-port"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        address = re.search(r"http://\S+?(?=/ )", process.stdout.readline())[0]
        bodies = [(SAMPLES / f"{name}.json").read_bytes() for name in (SMALL, INCOMPLETE, INCOMPLETE, INCOMPLETE)]
        with httpx.Client(base_url=address, timeout=60, trust_env=False) as client:
            for number in range(REQUESTS):
                client.post("/fhir/$plan-grafts", content=bodies[number % 4], headers=FHIR).raise_for_status()
                if number == 9:
                    early = resident_megabytes(process.pid)
            late = resident_megabytes(process.pid)
        process.terminate()
    return early, late
