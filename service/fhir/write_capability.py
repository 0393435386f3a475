"""CapabilityStatement and the answer of ``$versions``: what this endpoint can do."""

from __future__ import annotations

from collections.abc import Iterable

from service.fhir.write_operation_definition import OPERATIONS, PUBLISHER, STATED_ON, canonical_of

FHIR_VERSION = "4.0.1"
FHIR_VERSION_OF_MEDIA_TYPE = "4.0"
_SMART = {"coding": [{
    "system": "http://terminology.hl7.org/CodeSystem/restful-security-service", "code": "SMART-on-FHIR"}]}
FORMATS = ("application/fhir+json", "json")


def write_capability_statement(
    canonical_base: str, version: str, *, read_types: Iterable[str] = (), security: str = "", is_smart: bool = False,
) -> dict:
    """What ``GET [base]/metadata`` answers.

    Parameters
    ----------
    canonical_base : str
        Canonical base of the deployment.
    version : str
        Version of the software.
    read_types : iterable of str
        Types of conformance resources that can be read, and searched by their url.
    security : str
        How callers are admitted, in words; in particular that they are not checked.
    is_smart : bool
        Whether they show SMART tokens.
    """
    rest = {
        "mode": "server",
        "operation": [
            {"name": operation.code, "definition": canonical_of(canonical_base, operation)}
            for operation in OPERATIONS
        ],
    }
    resources = [_write_readable(resource_type) for resource_type in read_types]
    if resources:
        rest["resource"] = resources
    if security:
        rest["security"] = {"description": security, **({"service": [_SMART]} if is_smart else {})}
    return {
        "resourceType": "CapabilityStatement",
        "id": "graftstage",
        "url": f"{canonical_base}/CapabilityStatement/graftstage",
        "version": version,
        "name": "Graftstage",
        "title": "Graftstage staged autograft planner",
        "status": "active",
        "date": STATED_ON,
        "publisher": PUBLISHER,
        "description": "Decision support for licensed burn teams: plans staged autografting, orders nothing.",
        "kind": "instance",
        "software": {"name": "Graftstage", "version": version},
        "implementation": {"description": "Staged autograft planner", "url": canonical_base},
        "fhirVersion": FHIR_VERSION,
        "format": list(FORMATS),
        "rest": [rest],
    }


def _write_readable(resource_type: str) -> dict:
    return {
        "type": resource_type,
        "interaction": [{"code": "read"}, {"code": "search-type"}],
        "searchParam": [{"name": "url", "type": "uri"}],
    }


def write_versions() -> dict:
    """What ``GET [base]/$versions`` answers."""
    return {
        "resourceType": "Parameters",
        "parameter": [
            {"name": "version", "valueCode": FHIR_VERSION_OF_MEDIA_TYPE},
            {"name": "default", "valueCode": FHIR_VERSION_OF_MEDIA_TYPE},
        ],
    }
