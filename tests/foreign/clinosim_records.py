"""Records that clinosim makes: whole stays in hospital, a severe burn among them, each as it would be searched for."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

from tests.conftest import ROOT

SERVER = "https://other.example/fhir"
PAGE = 50


def clinosim_records(folder: Path) -> dict[str, dict]:
    """Bundles by name, the same on every run: one a patient, one page of one, and all patients at once."""
    subprocess.run(
        [sys.executable, "-m", "tests.foreign.run_clinosim", str(folder)], check=True, capture_output=True, cwd=ROOT)
    records: dict[str, dict] = {}
    everybody: list[dict] = []
    for stay in sorted(path for path in folder.iterdir() if path.is_dir()):
        patients, shared = _by_patient(stay / "fhir_r4")
        for number, own in enumerate(patients.values(), start=1):
            records[f"clinosim {stay.name} {number}"] = _searchset([*own, *shared])
            everybody += own[:PAGE]
        records[f"clinosim {stay.name}, first page"] = _searchset(own[:PAGE]) | {
            "link": [{"relation": "next", "url": f"{SERVER}?page=2"}], "total": len(own)}
    return records | {"clinosim, several patients": _searchset(everybody)}


def _by_patient(folder: Path) -> tuple[dict[str, list[dict]], list[dict]]:
    """Resources of each patient, and those of nobody."""
    patients, shared = defaultdict(list), []
    for path in sorted(folder.glob("*.ndjson")):
        for line in path.read_text(encoding="utf-8").splitlines():
            resource = json.loads(line)
            about = resource if resource["resourceType"] == "Patient" else None
            reference = resource.get("subject") or resource.get("patient") or {}
            key = f"Patient/{about['id']}" if about else reference.get("reference")
            (patients[key] if key else shared).append(resource)
    return dict(sorted(patients.items())), shared


def _searchset(resources: list[dict]) -> dict:
    entries = [
        {"fullUrl": f"{SERVER}/{one['resourceType']}/{one['id']}", "resource": one, "search": {"mode": "match"}}
        for one in resources]
    return {"resourceType": "Bundle", "type": "searchset", "entry": entries}
