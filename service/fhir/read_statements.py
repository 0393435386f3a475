"""Observations as statements: code, site, moment, value and components in house terms."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from service.fhir.body_sites import Site, read_site
from service.fhir.codes import codings_of, read_code
from service.fhir.moments import Moment, read_choice, read_moment
from service.fhir.quantities import read_quantity
from service.fhir.read_context import ReadContext
from service.fhir.references import Entry
from service.fhir.select_entries import Selected
from service.fhir.tables import Profile, ValueRule, component_rules

Value = Decimal | str | bool | date

_VALUE_KEYS = {
    "Quantity": "valueQuantity",
    "CodeableConcept": "valueCodeableConcept",
    "boolean": "valueBoolean",
    "dateTime": "valueDateTime",
}


@dataclass(frozen=True)
class Statement:
    """One Observation that counts. ``value`` is ``None`` when it is absent."""

    entry: Entry
    profile: Profile
    moment: Moment
    site: Site | None
    value: Value | None
    as_sent: str = ""
    components: dict[str, Value] = field(default_factory=dict)
    part_of: Entry | None = None

    @property
    def expression(self) -> str:
        return self.entry.expression

    @property
    def key(self) -> str:
        return self.entry.key


def _read_typed(
    sent: Any, rule: ValueRule, expression: str, context: ReadContext
) -> tuple[Value | None, str]:
    if rule.value_type == "Quantity":
        read = read_quantity(sent, rule, expression, context.log)
        return (read.value, read.as_sent) if read else (None, "")
    if rule.value_type == "CodeableConcept":
        return read_code(sent, rule.value_set, expression, context.code_map, context.log), ""
    if rule.value_type == "boolean":
        if not isinstance(sent, bool):
            context.log.fault("not-a-boolean", expression)
            return None, ""
        return sent, ""
    moment = read_moment(sent, expression, context.zone, context.log)
    return (moment.day if moment else None), ""


def read_value(
    holder: dict[str, Any], rule: ValueRule, expression: str, context: ReadContext
) -> tuple[Value | None, str]:
    """The value of an Observation or component, and value and unit as sent when converted.

    ``None`` without a fault when it is absent, with or without a reason for that.
    """
    key = _VALUE_KEYS[rule.value_type]
    if key in holder and "dataAbsentReason" in holder:
        context.log.fault("value-and-absent-reason", f"{expression}.dataAbsentReason")
        return None, ""
    if key in holder:
        return _read_typed(holder[key], rule, f"{expression}.value", context)
    if any(name.startswith("value") for name in holder):
        context.log.fault("value-type", f"{expression}.value", allowed=rule.value_type)
    return None, ""


def _component_code(component: dict[str, Any], place: str, context: ReadContext) -> str | None:
    """Code of a component of ours; ``None`` for one that is not ours."""
    for _, coding in codings_of(component.get("code")):
        is_local = coding.get("system") == context.code_map.local_system
        if is_local or context.code_map.is_ours_under_another_system(coding, "component"):
            return read_code(component["code"], "component", f"{place}.code", context.code_map, context.log)
    return None


def _read_components(
    entry: Entry, profile: Profile, context: ReadContext
) -> dict[str, Value]:
    read: dict[str, Value] = {}
    for index, component in enumerate(entry.resource.get("component", ())):
        place = f"{entry.expression}.component[{index}]"
        code = _component_code(component, place, context)
        if code not in profile.components:
            continue
        if code in read:
            context.log.fault("component-twice", place, component=code)
            continue
        value, _ = read_value(component, component_rules()[code], place, context)
        if value is not None:
            read[code] = value
    return read


def _read_part_of(entry: Entry, profile: Profile, context: ReadContext) -> Entry | None:
    references = entry.resource.get("partOf", [])
    if not references:
        return None
    if len(references) > 1:
        context.log.fault("reference-ambiguous", f"{entry.expression}.partOf")
        return None
    place = f"{entry.expression}.partOf[0]"
    target = context.references.resolve(entry, references[0], place, context.log)
    if target and target.type != "Procedure":
        context.log.fault("reference-wrong-type", place, allowed="Procedure")
        return None
    return target


def _check_moment(moment: Moment, expression: str, context: ReadContext) -> bool:
    if context.is_future(moment):
        context.log.fault("date-in-future", f"{expression}.effective")
        return False
    return True


def _read_own_site(
    entry: Entry, profile: Profile, components: dict[str, Value], context: ReadContext
) -> Site | None:
    """Site of an Observation; a missing one is a missing datum, unless the Procedure has it."""
    if profile.place == "none":
        return None
    body_site = entry.resource.get("bodySite")
    if body_site is None:
        if profile.place != "part":
            context.log.miss("body-site", f"{entry.expression}.bodySite")
        return None
    surface = components.get("surface")
    return read_site(body_site, surface, f"{entry.expression}.bodySite", context)


def _report_no_moment(entry: Entry, profile: Profile, context: ReadContext) -> None:
    """A measurement without its day does not count; a warning without its day must not be lost."""
    if profile.place == "none" and profile.quantity_kind:
        context.log.put_aside("data-absent", entry.expression, entry.type)
    else:
        context.log.miss("effective", f"{entry.expression}.effective")


def read_statement(selected: Selected, context: ReadContext) -> Statement | None:
    """An Observation as a statement; ``None`` when a fault or a missing day stops it."""
    entry, profile = selected.entry, selected.profile
    before = len(context.log.faults)
    if "focus" in entry.resource:
        context.log.fault("focus-set", f"{entry.expression}.focus")
    moment = read_choice(entry.resource, "effective", entry.expression, context.zone, context.log)
    components = _read_components(entry, profile, context)
    site = _read_own_site(entry, profile, components, context)
    part_of = _read_part_of(entry, profile, context) if profile.part_of else None
    value, as_sent = read_value(entry.resource, profile, entry.expression, context)
    if len(context.log.faults) > before:
        return None
    if moment is None:
        _report_no_moment(entry, profile, context)
        return None
    if not _check_moment(moment, entry.expression, context):
        return None
    if profile.place in ("region", "surface", "surfaces") and site is None:
        return None
    return Statement(entry, profile, moment, site, value, as_sent, components, part_of)
