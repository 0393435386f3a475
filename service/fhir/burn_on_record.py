"""Whether a record holds a burn that is being treated: for all others there is nothing to say."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from service.fhir.codes import CodeMap, codings_of

#: Profiles of Observations that only a patient with a burn or an open wound has.
_WOUNDS = ("burn-extent", "burn-extent-of-region", "total-burn-extent", "open-wound")
_PAST = ("inactive", "remission", "resolved")
_NO_BURN = ("entered-in-error", "refuted")


def has_burn_under_care(resources: Iterable[Any], code_map: CodeMap) -> bool:
    """Whether there is a burn that is not past, or a wound without any burn Condition.

    Parameters
    ----------
    resources : iterable
        Conditions and Observations as sent, among others.
    code_map : CodeMap
        Of the deployment.
    """
    held = [one for one in resources if isinstance(one, dict)]
    burns = [one for one in held if one.get("resourceType") == "Condition" and _is_burn(one, code_map)]
    if burns:
        return any(not _states(burn) & {*_PAST, *_NO_BURN} for burn in burns)
    return any(_names(one, code_map) & set(_WOUNDS) for one in held if one.get("resourceType") == "Observation")


def _names(resource: dict[str, Any], code_map: CodeMap) -> set[str]:
    rows = [row for _, coding in codings_of(resource.get("code")) for row in code_map.rows_of(coding)]
    return {row.name for row in rows if row.kind == "profile"} | {"burn" for row in rows if row.kind == "burn-band"}


def _is_burn(condition: dict[str, Any], code_map: CodeMap) -> bool:
    return "burn" in _names(condition, code_map)


def _states(condition: dict[str, Any]) -> set[str]:
    names = ("clinicalStatus", "verificationStatus")
    return {str(coding.get("code")) for name in names for _, coding in codings_of(condition.get(name))}
