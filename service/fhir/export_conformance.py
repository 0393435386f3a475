"""Write the conformance resources to files: ``python -m service.fhir.export_conformance DIR``."""

from __future__ import annotations

import sys
from pathlib import Path

from service import __version__
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.conformance_resources import write_terminology_and_profiles
from service.fhir.json_text import dump
from service.fhir.write_capability import write_capability_statement
from service.fhir.write_operation_definition import write_operation_definitions
from service.fhir.write_plan_definition import write_plan_definition


def conformance_resources(canonical_base: str) -> list[dict]:
    """Every conformance resource under one canonical base, the CapabilityStatement last."""
    defined = [
        *write_terminology_and_profiles(canonical_base, __version__),
        *write_operation_definitions(canonical_base, __version__),
        write_plan_definition(canonical_base, __version__),
    ]
    types = dict.fromkeys(resource["resourceType"] for resource in defined)
    return [*defined, write_capability_statement(canonical_base, __version__, read_types=types)]


def export_conformance(directory: Path, canonical_base: str = DEFAULT_CANONICAL_BASE) -> None:
    """One file a resource, named by its type and id."""
    directory.mkdir(parents=True, exist_ok=True)
    for resource in conformance_resources(canonical_base):
        path = directory / f"{resource['resourceType']}-{resource['id']}.json"
        path.write_bytes(dump(resource, indent=True) + b"\n")


if __name__ == "__main__":
    export_conformance(Path(sys.argv[1]))
