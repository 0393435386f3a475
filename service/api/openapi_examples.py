"""Examples of answers, made as the answers themselves are made."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace

from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.export_conformance import conformance_resources
from service.fhir.json_text import dump
from service.fhir.read_case import examine_request
from service.fhir.read_result import ReadResult
from service.fhir.write_capability import write_versions
from service.fhir.write_data_required import write_data_required_bundle
from service.fhir.write_read_report import write_read_report

EXAMPLE = Path(__file__).parent / "example_request.json"
_DEPLOYMENT = SimpleNamespace(canonical_base=DEFAULT_CANONICAL_BASE)


@lru_cache(maxsize=1)
def example_request() -> dict:
    return json.loads(EXAMPLE.read_text(encoding="utf-8"))


def _read_without_body_size() -> ReadResult:
    """The example as read when weight and height have been forgotten."""
    request = json.loads(EXAMPLE.read_text(encoding="utf-8"))
    record = next(p["resource"] for p in request["parameter"] if p["name"] == "bundle")
    record["entry"] = [entry for entry in record["entry"] if "valueQuantity" not in entry["resource"]
                       or entry["resource"]["valueQuantity"]["code"] not in ("kg", "cm")]
    return examine_request(json.dumps(request).encode())


def _plain(resource: dict) -> dict:
    """As it leaves: decimals as numbers."""
    return json.loads(dump(resource))


def data_required_example() -> dict:
    """The answer when weight and height are missing."""
    return _plain(write_data_required_bundle(_read_without_body_size(), _DEPLOYMENT))


def read_report_example() -> dict:
    """The report on the same record."""
    return _plain(write_read_report(_read_without_body_size(), _DEPLOYMENT))


def versions_example() -> dict:
    return _plain(write_versions())


@lru_cache(maxsize=8)
def conformance_example(resource_type: str) -> dict:
    """The shortest conformance resource of a type."""
    return min((
        _plain(resource) for resource in conformance_resources(DEFAULT_CANONICAL_BASE)
        if resource["resourceType"] == resource_type), key=lambda resource: len(json.dumps(resource)))


def search_example(resource_type: str) -> dict:
    """What a search by its url finds."""
    resource = conformance_example(resource_type)
    entry = {"fullUrl": resource["url"], "resource": resource, "search": {"mode": "match"}}
    return {"resourceType": "Bundle", "type": "searchset", "total": 1, "entry": [entry]}
