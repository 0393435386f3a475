"""Looking things up in an answer Bundle."""

from __future__ import annotations

from collections.abc import Iterator


def resources(bundle: dict, resource_type: str) -> list[dict]:
    found = [entry["resource"] for entry in bundle["entry"]]
    return [resource for resource in found if resource["resourceType"] == resource_type]


def only(bundle: dict, resource_type: str) -> dict:
    (resource,) = resources(bundle, resource_type)
    return resource


def coded(bundle: dict, resource_type: str, code: str) -> list[dict]:
    """Resources of a type whose local code is ``code``."""
    return [r for r in resources(bundle, resource_type) if r["code"]["coding"][0]["code"] == code]


def walk(node: object) -> Iterator[tuple[str, object]]:
    """Every named value of a resource, at any depth."""
    if isinstance(node, dict):
        for name, value in node.items():
            yield name, value
            yield from walk(value)
    elif isinstance(node, (list, tuple)):
        for value in node:
            yield from walk(value)


def references(node: object) -> list[str]:
    return [value for name, value in walk(node) if name == "reference" and isinstance(value, str)]
