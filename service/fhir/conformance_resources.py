"""CodeSystems, ValueSets and StructureDefinitions, made from the tables that the parser reads by."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from service.fhir.canonical import (
    CODE_SYSTEM,
    UCUM,
    code_system_url,
    error_system_url,
    profile_url,
    value_set_url,
)
from service.fhir.codes import CodeMap, CodeRow, load_code_map
from service.fhir.faults import fault_catalogue
from service.fhir.quantities import unit_codes
from service.fhir.tables import Profile, ValueRule, component_rules, input_profiles

FHIR_VERSION = "4.0.1"
#: Kinds of concepts that are no value set of their own: each stands for one fixed code.
_FIXED_KINDS = ("profile", "component", "burn-band", "sided-region")


def _head(resource_type: str, name: str, url: str, version: str, title: str, description: str) -> dict:
    return {
        "resourceType": resource_type,
        "id": name,
        "url": url,
        "version": version,
        "name": "".join(word.capitalize() for word in name.replace(".", "-").split("-")),
        "title": title,
        "status": "active",
        "experimental": False,
        "publisher": "Graftstage",
        "description": description,
    }


def _concept(code: str, display: str, definition: str) -> dict[str, str]:
    return {"code": code, "display": display, "definition": definition}


def _local_rows(code_map: CodeMap) -> Iterator[CodeRow]:
    """Local codes, each once: one code may stand for concepts of several kinds."""
    seen: set[str] = set()
    for row in code_map.rows:
        if row.is_local and row.code not in seen:
            seen.add(row.code)
            yield row


def write_code_systems(canonical_base: str, version: str) -> list[dict]:
    """The local codes and the stable error ids."""
    rows = list(_local_rows(load_code_map(canonical_base)))
    burn_grafting = _head(
        "CodeSystem", CODE_SYSTEM, code_system_url(canonical_base), version, "Burn grafting",
        "Codes of the burn record and of the graft plan.")
    errors = _head(
        "CodeSystem", "error-ids", error_system_url(canonical_base), version, "Error ids",
        "Stable ids of what can be wrong with a request or is said beside an answer.")
    return [
        _complete(burn_grafting, [_concept(row.code, row.display, row.meaning) for row in rows]),
        _complete(errors, [
            _concept(kind.error_id, kind.text, kind.repair) for kind in fault_catalogue().values()]),
    ]


def _complete(head: dict, concepts: list[dict[str, str]]) -> dict:
    return head | {"caseSensitive": True, "content": "complete", "count": len(concepts), "concept": concepts}


def write_value_sets(canonical_base: str, version: str) -> list[dict]:
    """One value set for each kind of coded value."""
    code_map = load_code_map(canonical_base)
    kinds = dict.fromkeys(row.kind for row in code_map.rows if row.kind not in _FIXED_KINDS)
    return [_write_value_set(kind, code_map, canonical_base, version) for kind in kinds]


def _write_value_set(kind: str, code_map: CodeMap, canonical_base: str, version: str) -> dict:
    title = kind.replace("-", " ").capitalize()
    rows = [row for row in code_map.rows_of_kind(kind) if row.is_local]
    concepts = [{"code": row.code, "display": row.display} for row in rows]
    head = _head(
        "ValueSet", kind, value_set_url(canonical_base, kind), version, title, f"Codes of the kind {title.lower()}.")
    return head | {"compose": {"include": [{"system": code_map.local_system, "concept": concepts}]}}


def write_structure_definitions(canonical_base: str, version: str) -> list[dict]:
    """One profile for each row of the table of inputs."""
    code_map = load_code_map(canonical_base)
    return [
        _write_profile(profile, code_map, canonical_base, version) for profile in input_profiles().values()]


def _write_profile(profile: Profile, code_map: CodeMap, canonical_base: str, version: str) -> dict:
    head = _head(
        "StructureDefinition", profile.code, profile_url(canonical_base, profile.code), version, profile.title,
        f"{profile.meaning}.")
    elements = [{"id": profile.resource, "path": profile.resource}]
    elements += _code_elements(profile, code_map)
    if profile.resource == "Observation":
        elements += _observation_elements(profile, canonical_base, code_map)
    elif profile.resource == "Procedure":
        elements += _procedure_elements(profile)
    elif profile.code == "burn":
        elements.append(_element("Condition.onset[x]", 0, types=("dateTime", "Period")))
    return head | {
        "fhirVersion": FHIR_VERSION,
        "kind": "resource",
        "abstract": False,
        "type": profile.resource,
        "baseDefinition": f"http://hl7.org/fhir/StructureDefinition/{profile.resource}",
        "derivation": "constraint",
        "differential": {"element": _in_order(profile.resource, elements)},
    }


def _element(
    path: str, low: int | None = None, high: str | None = None, *, types: Iterable[str] = (), element_id: str = "",
    **more: object,
) -> dict:
    element: dict = {"id": element_id or path, "path": path}
    if low is not None:
        element["min"] = low
    if high is not None:
        element["max"] = high
    if types:
        element["type"] = [{"code": code} for code in types]
    return element | more | {"mustSupport": True}


def _code_elements(profile: Profile, code_map: CodeMap) -> list[dict]:
    coding = code_map.coding(f"profile/{profile.code}")
    pattern = {"coding": [{"system": coding["system"], "code": coding["code"]}]}
    path = f"{profile.resource}.code"
    if profile.resource in ("Observation", "Procedure"):
        return [_element(path, 1, patternCodeableConcept=pattern)]
    return [_element(path, 1)]


def _binding(kind: str, canonical_base: str) -> dict:
    return {"strength": "required", "valueSet": value_set_url(canonical_base, kind)}


def _observation_elements(profile: Profile, canonical_base: str, code_map: CodeMap) -> list[dict]:
    elements = [
        _element("Observation.subject", 1),
        _element("Observation.effective[x]", 0, types=("dateTime", "Period", "instant")),
        _element("Observation.focus", 0, "0"),
        *_value_elements("Observation", profile, canonical_base),
    ]
    if profile.part_of:
        elements.append(_element("Observation.partOf", 0, "1"))
    if profile.place in ("region", "surface", "surfaces"):
        elements.append(_element("Observation.bodySite", 0))
    if profile.components:
        elements += _component_elements(profile, canonical_base, code_map)
    return elements


def _procedure_elements(profile: Profile) -> list[dict]:
    return [
        _element("Procedure.subject", 1),
        _element("Procedure.performed[x]", 0, types=("dateTime", "Period")),
        _element("Procedure.bodySite", 0, "1"),
    ]


def _value_elements(parent: str, rule: ValueRule, canonical_base: str, element_id: str = "") -> list[dict]:
    """``value[x]``: its type, its value set, or its units and range."""
    path, name = f"{parent}.value[x]", f"{element_id or parent}.value[x]"
    more: dict = {}
    if rule.value_set:
        more["binding"] = _binding(rule.value_set, canonical_base)
    if rule.quantity_kind:
        units = ", ".join(unit_codes(rule.quantity_kind))
        more["short"] = f"{rule.low} to {rule.high} {rule.unit}; read in {units} ({UCUM})"
    return [_element(path, 0, types=(rule.value_type,), element_id=name, **more)]


def _component_elements(profile: Profile, canonical_base: str, code_map: CodeMap) -> list[dict]:
    path = "Observation.component"
    slicing = {"discriminator": [{"type": "pattern", "path": "code"}], "rules": "open"}
    elements = [{"id": path, "path": path, "slicing": slicing}]
    for code in profile.components:
        rule, name = component_rules()[code], f"{path}:{code}"
        coding = code_map.coding(f"component/{code}")
        pattern = {"coding": [{"system": coding["system"], "code": coding["code"]}]}
        elements.append(_element(path, 0, "1", element_id=name, sliceName=code, short=rule.meaning))
        elements.append(_element(f"{path}.code", 1, element_id=f"{name}.code", patternCodeableConcept=pattern))
        elements += _value_elements(path, rule, canonical_base, name)
    return elements


_ORDER = {
    "Observation": ("", "partOf", "code", "subject", "focus", "effective[x]", "value[x]", "bodySite", "component"),
    "Procedure": ("", "code", "subject", "performed[x]", "bodySite"),
    "Condition": ("", "code", "onset[x]"),
    "AllergyIntolerance": ("", "code"),
}


def _in_order(resource: str, elements: list[dict]) -> list[dict]:
    """Elements in the order of the base definition; parts of one element stay together."""
    def rank(element: dict) -> int:
        name = element["path"].removeprefix(resource).lstrip(".").split(".", 1)[0]
        return _ORDER[resource].index(name)
    return sorted(elements, key=rank)


def write_terminology_and_profiles(canonical_base: str, version: str) -> list[dict]:
    """Every conformance resource made from the tables.

    Parameters
    ----------
    canonical_base : str
        Canonical base of the deployment.
    version : str
        Version of the software, which is that of its definitions.
    """
    return [
        *write_code_systems(canonical_base, version),
        *write_value_sets(canonical_base, version),
        *write_structure_definitions(canonical_base, version),
    ]
