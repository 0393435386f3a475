"""SMART scopes, version 1 and 2: what a token allows, against what an operation needs.

https://hl7.org/fhir/smart-app-launch/scopes-and-launch-context.html
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

#: Claims without which a scope of that context says nothing: whose data, or whose rights.
_CLAIM_OF_CONTEXT = {"patient": "patient", "user": "fhirUser"}
_VERSION_1 = {"read": "rs", "write": "cud", "*": "cruds"}
_SCOPE = re.compile(r"(patient|user|system)/(\*|[A-Z][A-Za-z]{0,63})\.(read|write|\*|(?=[cruds])c?r?u?d?s?)")


@dataclass(frozen=True)
class Need:
    """What has to be allowed on one type. ``interactions``: letters of version 2."""

    resource_type: str
    interactions: str

    @property
    def scope(self) -> str:
        """The narrowest scope of a system that is enough."""
        return f"system/{self.resource_type}.{self.interactions}"


def missing_needs(needs: Iterable[Need], claims: Mapping[str, Any]) -> tuple[Need, ...]:
    """What a token does not allow.

    A scope that is narrowed to part of a type (``?category=...``) does not count: a plan made of part of the record
    would not say so. Nor does one of a context that the token does not state: ``patient/`` without ``patient``,
    ``user/`` without ``fhirUser``. Letters out of order are not defined and do not count.
    """
    allowed = [scope for text in _texts(claims.get("scope")) if (scope := _read(text, claims))]
    return tuple(need for need in needs if not any(_is_enough(scope, need) for scope in allowed))


def _texts(sent: object) -> list[str]:
    """The scopes of the claim: a text parted by spaces (RFC 8693, RFC 9068)."""
    return sent.split(" ") if isinstance(sent, str) else []


def _read(text: str, claims: Mapping[str, Any]) -> tuple[str, str] | None:
    """Type and letters of a scope that counts."""
    found = _SCOPE.fullmatch(text)
    if not found:
        return None
    context, resource_type, interactions = found.groups()
    needed = _CLAIM_OF_CONTEXT.get(context)
    if needed and not _is_stated(claims.get(needed)):
        return None
    return resource_type, _VERSION_1.get(interactions, interactions)


def _is_stated(claim: object) -> bool:
    return isinstance(claim, str) and bool(claim)


def _is_enough(scope: tuple[str, str], need: Need) -> bool:
    resource_type, interactions = scope
    return resource_type in ("*", need.resource_type) and set(need.interactions) <= set(interactions)
