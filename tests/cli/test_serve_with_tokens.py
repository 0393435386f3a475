"""``serve`` where tokens are asked for: two processes with one memory of used tokens, and what stands in their log."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import httpx2 as httpx
import pytest

from tests.cds_hooks.hook_calls import PATH
from tests.contract.issuer import PUBLIC_BASE, Issuer, bearer, run_issuer


@pytest.fixture(scope="module")
def issuer() -> Iterator[Issuer]:
    with run_issuer() as running:
        yield running


@contextmanager
def run_service(environment: dict[str, str]) -> Iterator[tuple[str, subprocess.Popen]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "service.cli", "serve"], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL, text=True, env=os.environ | environment)
    try:
        ready = process.stdout.readline()
        assert ready.startswith("Graftstage is ready"), process.stderr.read()
        yield re.search(r"http://\S+?(?=/ )", ready).group(), process
    finally:
        process.terminate()
        process.wait(timeout=60)


def test_a_token_works_once_for_all_processes_and_stands_in_no_log(issuer, tmp_path):
    environment = {
        "GRAFTSTAGE_PORT": "0", "GRAFTSTAGE_PUBLIC_BASE": PUBLIC_BASE, "GRAFTSTAGE_HOOK_CLIENTS": issuer.trusted,
        "GRAFTSTAGE_DATABASE": str(tmp_path / "shared.sqlite")}
    token = issuer.sign(issuer.hook_claims("/cds-services"))
    with run_service(environment) as (first, one), run_service(environment) as (second, other):
        statuses = [
            httpx.get(f"{address}/cds-services", headers=bearer(token), trust_env=False).status_code
            for address in (first, second, first)]
        assert httpx.post(f"{second}{PATH}", headers=bearer("planted.to.ken"), trust_env=False).status_code == 401
    logged = one.stderr.read() + other.stderr.read()
    assert statuses == [200, 401, 401]
    assert logged.count("token refused: used-before") == 2 and "token refused: unreadable" in logged
    assert f"GRAFTSTAGE_HOOK_CLIENTS={issuer.trusted}" in logged and "No tokens are asked for" not in logged
    for part in (*token.split("."), "planted", "Bearer"):
        assert part not in logged
