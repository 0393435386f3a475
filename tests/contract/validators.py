"""The validators of tests/contract/validate.mjs, called over folders of resources."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

HERE = Path(__file__).parent
INSTALL = f"npm ci --ignore-scripts --prefix {HERE.relative_to(HERE.parents[1])}"


def require_validators() -> None:
    """Install the validators from the lock file when they are not there.

    Fails with the command to run: what is not checked must not look as if it were.
    """
    for program in ("node", "npm"):
        if shutil.which(program) is None:
            raise AssertionError(f"{program} is missing: install it with `apt-get install nodejs npm`")
    if not (HERE / "node_modules" / "fhir").is_dir():
        done = subprocess.run(
            ["npm", "ci", "--ignore-scripts"], cwd=HERE, capture_output=True, text=True, timeout=300)
        assert done.returncode == 0, f"the validators could not be installed: run `{INSTALL}`\n{done.stderr}"


def judge(*folders: Path) -> list[dict]:
    """Every message about the resources in the folders."""
    done = subprocess.run(
        ["node", str(HERE / "validate.mjs"), *map(str, folders)], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def accepted() -> list[dict]:
    """Messages that are known to be false, each with the reason why."""
    return json.loads((HERE / "accepted-messages.json").read_text())


def is_accepted(message: dict) -> bool:
    return any(rule["tool"] == message["tool"] and rule["message"] in message["message"] for rule in accepted())
