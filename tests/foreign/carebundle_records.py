"""Records that carebundle makes: visits, histories, and the same with the defects of real systems."""

from __future__ import annotations

import json

from carebundle import PROFILES, Imperfection, generate_bundle, generate_cohort, generate_history, inject_defects
from carebundle import to_json as write_json

SEED = 17
#: How dirty: each kind hits about a third of what it can hit.
DIRTY = Imperfection(
    missing_field=0.3, duplicate_entry=0.3, out_of_order_timestamp=0.3, unparseable_value=0.3,
    unknown_code_system=0.3)


def plain(bundle: object) -> dict:
    return json.loads(write_json(bundle))


def carebundle_records() -> dict[str, dict]:
    """Bundles by name, the same on every run."""
    visits = {f"carebundle visit {name}": plain(generate_bundle(profile=name, seed=SEED)) for name in PROFILES}
    histories = {
        f"carebundle history {name}": plain(generate_history(profile=name, seed=SEED, visits=3))
        for name in ("anaemia", "ckd_stage3")}
    dirty = {f"{name} with defects": inject_defects(bundle, DIRTY, seed=SEED)[0] for name, bundle in visits.items()}
    cohort = [entry for bundle in generate_cohort(count=3, seed=SEED) for entry in plain(bundle)["entry"]]
    return visits | histories | dirty | {
        "carebundle cohort": {"resourceType": "Bundle", "type": "collection", "entry": cohort}}
