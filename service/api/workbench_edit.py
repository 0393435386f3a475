"""The changes that were made on the workbench, carried into the request before it is planned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from service.domain.body_region import Region, Side, all_places
from service.domain.donor_site import DonorState
from service.domain.graft import GraftMethod
from service.fhir.edit_request import RequestEditor
from service.fhir.read_result import ReadResult
from service.sheet.inputs import (
    DONOR,
    EXTENT,
    METHOD,
    METHODS_SHOWN,
    NUMBERS,
    THEATRE_DAYS,
    WEIGHT,
    present_inputs,
)
from service.sheet.typed_number import NumberFault, read_typed_number
from service.wording.languages import ENGLISH, N_


class InputFault(ValueError):
    """A field that cannot be used: its label, never what was entered."""


@dataclass(frozen=True)
class _Changes:
    """Fields that differ from the request as it was read."""

    fields: Mapping[str, str]
    before: Mapping[str, str]

    def of(self, name: str) -> str | None:
        """The new text of a field, ``None`` when it is as before or not in the form."""
        text = self.fields.get(name)
        return None if text is None or text.strip() == self.before.get(name, "").strip() else text.strip()


def apply_changes(read: ReadResult, request: dict, fields: Mapping[str, str], canonical_base: str) -> dict:
    """The request with every field that was changed.

    Parameters
    ----------
    read : ReadResult
        What was understood of the request; without a record nothing but a missing weight can be stated.
    request : dict
        The request as parsed.
    fields : mapping of str to str
        Form fields by name.
    canonical_base : str
        Start of the local code system.

    Raises ``InputFault`` for a field that cannot be read.
    """
    editor = RequestEditor(request, read.request.as_of, canonical_base)
    if fields.get("as-of", "").strip():
        editor.set_parameter("as-of", {"valueInstant": _instant(fields["as-of"].strip())})
    if read.record is None:
        if fields.get(WEIGHT, "").strip():
            editor.state_weight(_number(N_("weight"), fields[WEIGHT]))
        return editor.request
    changes = _Changes(fields, _values(read))
    _change_measurements(editor, read, changes)
    _change_donors(editor, read, changes)
    _change_parameters(editor, changes)
    _change_methods(editor, read, fields)
    _add_decision(editor, request, fields)
    return editor.request


def _values(read: ReadResult) -> dict[str, str]:
    """What the fields held when the page was made."""
    inputs = present_inputs(read.record, read.request, ENGLISH)
    fields = (inputs.weight, *inputs.extents, *inputs.donors, *inputs.numbers)
    return {field.name: field.value for field in fields} | {THEATRE_DAYS: inputs.theatre_days}


def _change_measurements(editor: RequestEditor, read: ReadResult, changes: _Changes) -> None:
    if (text := changes.of(WEIGHT)) is not None:
        editor.set_quantity(read.record.patient.weight_kg.source, _number(N_("weight"), text), "kg")
    for extent in read.record.extents:
        if (text := changes.of(f"{EXTENT}{extent.source}")) is not None:
            editor.set_quantity(extent.source, _number(N_("extent"), text), "%")


def _change_donors(editor: RequestEditor, read: ReadResult, changes: _Changes) -> None:
    recorded = {state.place: state.source for state in read.record.donor_states}
    for place in all_places():
        text = changes.of(f"{DONOR}{place.key}")
        if text:
            editor.state_donor(place, DonorState(text), recorded.get(place))


def _change_parameters(editor: RequestEditor, changes: _Changes) -> None:
    for name, label, unit in NUMBERS:
        text = changes.of(name)
        if text is not None:
            editor.set_parameter(name, *([_parameter(name, _number(label, text), unit)] if text else []))
    if (text := changes.of(THEATRE_DAYS)) is not None:
        days = [{"part": [{"name": "date", "valueDate": _day(line)}]} for line in text.split()]
        editor.set_parameter(THEATRE_DAYS.removesuffix("s"), *days)


def _change_methods(editor: RequestEditor, read: ReadResult, fields: Mapping[str, str]) -> None:
    """The methods that are ticked. Raises ``InputFault`` when none is."""
    if METHODS_SHOWN not in fields:
        return
    ticked = {method for method in GraftMethod if f"{METHOD}{method}" in fields}
    if not ticked:
        raise InputFault(N_("methods"))
    if ticked != read.request.methods_available:
        editor.set_parameter("method-available", *({"valueCode": str(m)} for m in GraftMethod if m in ticked))


def _parameter(name: str, number: Decimal, unit: str) -> dict:
    if unit == "cm²":
        return {"valueQuantity": {
            "value": number, "unit": unit, "system": "http://unitsofmeasure.org", "code": "cm2"}}
    if name == "transfusion-units":
        if number != int(number):
            raise InputFault(N_("Red-cell units available"))
        return {"valueInteger": int(number)}
    return {"valueDecimal": number}


def _add_decision(editor: RequestEditor, request: dict, fields: Mapping[str, str]) -> None:
    """One more decision beside those of the request; it needs what and where."""
    act, where = fields.get("decide-act", ""), fields.get("decide-place", "")
    if not act and not where:
        return
    if not act or not where:
        raise InputFault(N_("decision"))
    parts = [{"name": "act", "valueCode": act}, *_place_parts(where)]
    if fields.get("decide-method"):
        parts.append({"name": "method", "valueCode": fields["decide-method"]})
    if fields.get("decide-date", "").strip():
        parts.append({"name": "date", "valueDate": _day(fields["decide-date"])})
    kept = [p for p in request.get("parameter", []) if p.get("name") == "fixed-decision"]
    editor.set_parameter("fixed-decision", *({"part": p["part"]} for p in kept), {"part": parts})


def _place_parts(region_key: str) -> list[dict]:
    place = next((p for p in all_places() if p.region_key == region_key), None)
    if place is None:
        raise InputFault(N_("decision"))
    return _write_place(place.region, place.side)


def _write_place(region: Region, side: Side | None) -> list[dict]:
    return [{"name": "region", "valueCode": str(region)}, *([{"name": "side", "valueCode": str(side)}] if side else [])]


def _number(label: str, text: str) -> Decimal:
    try:
        return read_typed_number(text)
    except NumberFault:
        raise InputFault(label) from None


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise InputFault(N_("date")) from None


def _instant(text: str) -> str:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise InputFault(N_("as of")) from None
    if moment.tzinfo is None:
        raise InputFault(N_("as of"))
    return moment.isoformat()
