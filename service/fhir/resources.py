"""The only file that imports ``fhir.resources``: the structure check of what is read.

R4B classes read R4 for every resource used here. The library is the check only; values are
taken from the exact JSON, because its models let numbers pass through a float.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

from fhir.resources.R4B import get_fhir_model_class
from pydantic import ValidationError

from service.fhir.read_log import ReadLog

CHECKED_TYPES = ("Patient", "Observation", "Procedure", "Condition", "AllergyIntolerance")

_CHOICE = re.compile(r"(value|effective|performed|onset|deceased|abatement|multipleBirth)[A-Z]\w*")
_ERROR_IDS = {
    "extra_forbidden": "element-unknown",
    "missing": "element-required",
    "model_field_validation.missing": "element-required",
    "value_error": "value-invalid",
    "string_pattern_mismatch": "value-invalid",
    "string_too_short": "value-invalid",
    "string_too_long": "value-invalid",
    "string_type": "not-a-text",
    "decimal_type": "not-a-number",
    "decimal_parsing": "not-a-number",
    "bool_type": "not-a-boolean",
    "bool_parsing": "not-a-boolean",
}


@lru_cache(maxsize=512)
def is_resource_type(name: str) -> bool:
    """Whether FHIR knows a resource of this name."""
    try:
        model = get_fhir_model_class(name)
    except ValueError:
        return False
    return issubclass(model, get_fhir_model_class("Resource"))


def path_of(location: tuple[str | int, ...]) -> str:
    """Location in the JSON as FHIRPath; a choice element loses the suffix of its type."""
    text = ""
    for part in location:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            choice = _CHOICE.fullmatch(part)
            text += f".{choice[1] if choice else part}"
    return text


def _report(error: dict[str, Any], expression: str, log: ReadLog) -> None:
    """Turn one library error into a fault; its message is dropped, for it may repeat a value."""
    kind, location = error["type"], error["loc"]
    place = expression + path_of(location)
    if kind == "value_error" and not location:
        log.fault("structure", place, problem="more than one value of a choice or a type that does not fit")
    elif kind.startswith(("date_", "datetime_", "time_")):
        log.fault("date-invalid", place)
    elif kind in _ERROR_IDS:
        log.fault(_ERROR_IDS[kind], place)
    else:
        log.fault("structure", place, problem=kind.replace("_", " "))


def check_structure(resource: dict[str, Any], expression: str, log: ReadLog) -> bool:
    """Check one resource against the structure of FHIR; ``True`` if it can be read on.

    Parameters
    ----------
    resource : dict
        The resource as exact JSON; its ``resourceType`` is one of ``CHECKED_TYPES``.
    expression : str
        FHIRPath of the resource.
    """
    try:
        get_fhir_model_class(resource["resourceType"]).model_validate(resource)
    except ValidationError as invalid:
        for error in invalid.errors(include_input=False, include_url=False, include_context=False):
            _report(error, expression, log)
        return False
    except (KeyError, TypeError, AttributeError, ValueError, RecursionError):
        log.fault("structure", expression, problem="a part of it is of no known type")
        return False
    return True


def warm_up() -> None:
    """Build the lazily made model classes before the first request needs them."""
    for name in CHECKED_TYPES:
        check_structure({"resourceType": name}, name, ReadLog())
