"""Which entries count: by owner, status and code. What does not count is set aside and named."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from service.fhir.codes import codings_of, note_display
from service.fhir.identity import identifier_system
from service.fhir.read_context import ReadContext
from service.fhir.references import Entry, identifiers_of
from service.fhir.tables import Profile, input_profiles

COUNTING_STATUS = {
    "Observation": ("final", "amended", "corrected"),
    "Procedure": ("completed",),
}
_ACTORS = ("author", "requester", "performer", "recorder", "asserter", "device")


@dataclass(frozen=True)
class Selected:
    """An entry that counts, under the input profile of its code. ``band``: coded burn size."""

    entry: Entry
    profile: Profile
    band: int | None = None


def _references_in(resource: dict[str, Any], name: str) -> list[dict[str, Any]]:
    sent = resource.get(name, [])
    found = []
    for one in sent if isinstance(sent, list) else [sent]:
        if isinstance(one, dict):
            found.append(one.get("actor") if isinstance(one.get("actor"), dict) else one)
    return found


def is_own_answer(resource: dict[str, Any], canonical_base: str) -> bool:
    """Whether this service made the resource: by an identifier of its own or as its author."""
    system = identifier_system(canonical_base)
    actors = [one for name in _ACTORS for one in _references_in(resource, name)]
    named = identifiers_of(resource) + [i for actor in actors for i in identifiers_of(actor)]
    return any(str(identifier.get("system", "")).startswith(system) for identifier in named)


def _verification(resource: dict[str, Any]) -> set[str]:
    """Codes of verificationStatus and clinicalStatus."""
    names = ("verificationStatus", "clinicalStatus")
    return {str(c.get("code")) for name in names for _, c in codings_of(resource.get(name))}


def _reason_not_to_count(entry: Entry) -> str | None:
    status = entry.resource.get("status")
    if status == "entered-in-error" or "entered-in-error" in _verification(entry.resource):
        return "entered-in-error"
    if entry.type in COUNTING_STATUS and status not in COUNTING_STATUS[entry.type]:
        return "status-not-final"
    return None


def is_refuted(resource: dict[str, Any]) -> bool:
    return "refuted" in _verification(resource)


def _find_profile(entry: Entry, context: ReadContext) -> tuple[str | None, int | None]:
    """Profile code and burn band that ``code`` stands for."""
    place = f"{entry.expression}.code"
    found: set[str] = set()
    band = None
    for index, coding in codings_of(entry.resource.get("code")):
        coding_place = f"{place}.coding[{index}]"
        for row in context.code_map.rows_of(coding):
            if row.kind == "profile":
                found.add(row.name)
                note_display(row, coding, coding_place, context.log)
            elif row.kind == "burn-band":
                band = int(row.name)
                found.add("burn")
        if not context.code_map.rows_of(coding) and coding.get("system") == context.code_map.local_system:
            context.log.fault("code-unknown", f"{coding_place}.code", value_set="input profiles")
        elif context.code_map.is_ours_under_another_system(coding, "profile"):
            context.log.fault(
                "code-system-unknown", f"{coding_place}.system", system=context.code_map.local_system)
    if len(found) > 1:
        context.log.fault("code-conflict", place)
        return None, None
    return (found.pop() if found else None), band


def _is_repeated(entry: Entry, seen: set[str]) -> bool:
    """Whether the very same resource came before; Observations are compared by what they say."""
    if entry.type == "Observation":
        return False
    content = repr(entry.resource)
    if content in seen:
        return True
    seen.add(content)
    return False


def select_entries(
    entries: tuple[Entry, ...], modifiers: dict[str, list[tuple[str, str]]], context: ReadContext,
    canonical_base: str,
) -> tuple[Selected, ...]:
    """The entries that count, Patients apart.

    An element that may change the meaning of a resource that counts is a fault, of one that
    does not count it is no matter.
    """
    selected: list[Selected] = []
    seen: set[str] = set()
    for entry in entries:
        if entry.type == "Patient":
            continue
        if _is_repeated(entry, seen):
            context.log.put_aside("duplicate-resource", entry.expression, entry.type)
            continue
        if is_own_answer(entry.resource, canonical_base):
            context.log.put_aside("own-answer", entry.expression, entry.type)
            continue
        code, band = _find_profile(entry, context)
        profile = input_profiles().get(code or "")
        if profile is None or profile.resource != entry.type:
            context.log.put_aside("observation-not-used", entry.expression, entry.type)
            continue
        reason = _reason_not_to_count(entry)
        if reason:
            context.log.put_aside(reason, entry.expression, entry.type)
            continue
        for error_id, place in modifiers.get(entry.key, ()):
            context.log.fault(error_id, place)
        selected.append(Selected(entry, profile, band))
    return tuple(selected)
