"""The programs in JavaScript of this folder: validators, a server of another make, a client library."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

HERE = Path(__file__).parent
INSTALL = f"npm ci --ignore-scripts --prefix {HERE.relative_to(HERE.parents[1])}"


def require_validators() -> None:
    """Install what the programs need from the lock file when it is not there.

    Fails with the command to run: what is not checked must not look as if it were.
    """
    for program in ("node", "npm"):
        if shutil.which(program) is None:
            raise AssertionError(f"{program} is missing: install it with `apt-get install nodejs npm`")
    needed = json.loads((HERE / "package.json").read_text())["dependencies"]
    if not all((HERE / "node_modules" / name).is_dir() for name in needed):
        done = subprocess.run(
            ["npm", "ci", "--ignore-scripts"], cwd=HERE, capture_output=True, text=True, timeout=300)
        assert done.returncode == 0, f"the validators could not be installed: run `{INSTALL}`\n{done.stderr}"


def run_program(name: str, *arguments: str) -> str:
    """What a program prints; fails with its complaint."""
    done = subprocess.run(["node", str(HERE / name), *arguments], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return done.stdout


@contextmanager
def run_program_that_serves(name: str) -> Iterator[str]:
    """A program that serves on loopback, for as long as the block runs; gives the address that it prints."""
    with subprocess.Popen(["node", str(HERE / name)], stdout=subprocess.PIPE, text=True) as program:
        try:
            address = program.stdout.readline().strip()
            assert address.startswith("http://"), "the server did not start"
            yield address
        finally:
            program.terminate()


@contextmanager
def run_store() -> Iterator[str]:
    """A FHIR server of another make that stores in memory; gives its address."""
    with run_program_that_serves("store.mjs") as address:
        yield address


def judge(*folders: Path) -> list[dict]:
    """Every message about the resources in the folders."""
    return json.loads(run_program("validate.mjs", *map(str, folders)))


def accepted() -> list[dict]:
    """Messages that are known to be false, each with the reason why."""
    return json.loads((HERE / "accepted-messages.json").read_text())


def is_accepted(message: dict) -> bool:
    return any(rule["tool"] == message["tool"] and rule["message"] in message["message"] for rule in accepted())
