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
_TIME_ELEMENTS = ("DateTime", "Instant", "Date", "issued", "start", "end")
_TIME_WITHOUT_ZONE = re.compile(r"T\d\d:\d\d:\d\d(\.\d+)?$")
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
    """Location in the JSON as FHIRPath; a choice element loses the suffix of its type.

    A key that is no element name may be anything, so it is not repeated.
    """
    text = ""
    for part in location:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            choice = _CHOICE.fullmatch(part)
            name = choice[1] if choice else part
            text += f".{name if name.isidentifier() else '?'}"
    return text


def _sent_at(resource: dict[str, Any], location: tuple[str | int, ...]) -> Any:
    """What was sent at a location; ``None`` when it leads nowhere."""
    sent: Any = resource
    for part in location:
        try:
            sent = sent[part]
        except (KeyError, IndexError, TypeError):
            return None
    return sent


def _error_id_of(kind: str, location: tuple[str | int, ...], sent: Any) -> str | None:
    """Error id of a library error at one element; ``None`` when only the kind is known."""
    name = str(location[-1])
    if name.endswith(_TIME_ELEMENTS) and isinstance(sent, str):
        return "time-without-zone" if _TIME_WITHOUT_ZONE.search(sent) else "date-invalid"
    if name == "value" and isinstance(sent, bool):
        return "not-a-number"
    return _ERROR_IDS.get(kind)


def _report(error: dict[str, Any], resource: dict[str, Any], expression: str, log: ReadLog) -> None:
    """Turn one library error into a fault; its message is dropped, for it may repeat a value."""
    kind, location = error["type"], error["loc"]
    place = expression + path_of(location)
    error_id = _error_id_of(kind, location, _sent_at(resource, location)) if location else None
    if error_id:
        log.fault(error_id, place)
    elif not location:
        log.fault("structure", place, problem="more than one value of a choice or a type that does not fit")
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
            _report(error, resource, expression, log)
        return False
    except (KeyError, TypeError, AttributeError, ValueError, RecursionError):
        log.fault("structure", expression, problem="a part of it is of no known type")
        return False
    return True


def warm_up() -> None:
    """Build the lazily made model classes before the first request needs them."""
    for name in CHECKED_TYPES:
        check_structure({"resourceType": name}, name, ReadLog())
