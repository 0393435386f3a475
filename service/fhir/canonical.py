"""Canonical addresses of what the service defines."""

from __future__ import annotations

DEFAULT_CANONICAL_BASE = "https://graftstage.example/fhir"
CODE_SYSTEM = "burn-grafting"
UCUM = "http://unitsofmeasure.org"


def code_system_url(canonical_base: str) -> str:
    return f"{canonical_base}/CodeSystem/{CODE_SYSTEM}"


def error_system_url(canonical_base: str) -> str:
    return f"{canonical_base}/CodeSystem/error-ids"


def value_set_url(canonical_base: str, name: str) -> str:
    return f"{canonical_base}/ValueSet/{name}"


def profile_url(canonical_base: str, name: str) -> str:
    return f"{canonical_base}/StructureDefinition/{name}"
