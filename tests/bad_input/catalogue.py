"""The bad-input catalogue as far as the reader alone decides it: one row, one case.

``planted`` is a text that stands in the request and must not stand in the answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from service.domain.body_region import Place, all_places
from service.domain.burn_wound import Depth
from tests import builders as make

ENTRY = "Parameters.parameter[0].resource.entry[{}].resource"
FIRST_WOUND = ENTRY.format(5)  # after the five resources that every record needs
WEIGHT = ENTRY.format(2)


@dataclass(frozen=True)
class BadInput:
    """One line of the catalogue and what the reader answers."""

    name: str
    body: Callable[[], bytes]
    status: int
    issue_code: str
    error_id: str
    expression: str = ""
    planted: str = ""


def raw(body: bytes) -> Callable[[], bytes]:
    return lambda: body


def wounds(*resources: Any) -> Callable[[], bytes]:
    """A complete record with these resources."""
    return lambda: make.body_of(make.record(*resources))


def text_of(resource: Any, old: str, new: str) -> Callable[[], bytes]:
    """A record whose JSON text is changed where a builder could not write it."""
    def body() -> bytes:
        text = make.body_of(make.record(resource)).decode()
        assert old in text
        return text.replace(old, new, 1).encode()
    return body


def instead_of(index: int, resource: Any) -> Callable[[], bytes]:
    """A complete record in which one of the needed resources is another."""
    def body() -> bytes:
        resources = make.needed()
        resources[index] = resource
        return make.body_of(make.parameters(make.bundle(*resources, make.burn_wound())))
    return body


def weight(value: object, ucum: str = "kg", **changed: Any) -> dict:
    resource = make.measured("weight", value, ucum)
    resource["valueQuantity"] |= changed
    return resource


def without(resource: dict, *path: str) -> dict:
    holder = resource
    for name in path[:-1]:
        holder = holder[name]
    del holder[path[-1]]
    return resource


WOUND = make.burn_wound()
DEEP = b'{"resourceType":"Bundle","a":' + b"[" * 100_000 + b"]" * 100_000 + b"}"
TEN_THOUSAND_ONE = b'{"resourceType":"Bundle","type":"collection","entry":[' + b"{}," * 10_000 + b"{}]}"


def nested_extension(levels: int) -> list[dict]:
    extension: list[dict] = [{"url": "https://record.example/e", "valueString": "x"}]
    for _ in range(levels):
        extension = [{"url": "https://record.example/e", "extension": extension}]
    return extension


def many_wounds() -> bytes:
    """Every place at every depth in percent of the region, and again in percent of the body."""
    return make.body_of(make.record(*[
        make.burn_wound(f"{place.side or ''} {place.region} {surface_of(place)}", "1.5", depth, code=code)
        for code in ("burn-extent-of-region", "burn-extent") for depth in Depth for place in all_places()
    ]))


def surface_of(place: Place) -> str:
    return place.surface if len(place.facts.surfaces) > 1 else ""


SYNTAX = [
    BadInput("1 empty body", raw(b""), 400, "structure", "body-empty"),
    BadInput("2 whitespace only", raw(b" \n\t "), 400, "structure", "body-empty"),
    BadInput("3 null", raw(b"null"), 400, "structure", "not-an-object"),
    BadInput("3 list", raw(b"[]"), 400, "structure", "not-an-object"),
    BadInput("3 text", raw(b'"Planted"'), 400, "structure", "not-an-object", planted="Planted"),
    BadInput("3 number", raw(b"42"), 400, "structure", "not-an-object", planted="42"),
    BadInput("4 truncated", raw(b'{"resourceType":"Bundle","type":"coll'), 400, "structure", "not-json"),
    BadInput("5 trailing comma", raw(b'{"resourceType":"Bundle",}'), 400, "structure", "not-json"),
    BadInput("6 trailing garbage", raw(b'{"resourceType":"Bundle"} Planted'), 400, "structure", "not-json",
             planted="Planted"),
    BadInput("7 byte order mark", raw(b'\xef\xbb\xbf{"resourceType":"Bundle"}'), 400, "structure", "not-utf8"),
    BadInput("8 UTF-16", raw('{"resourceType":"Bundle"}'.encode("utf-16")), 400, "structure", "not-utf8"),
    BadInput("9 invalid UTF-8", raw(b'{"resourceType":"Bundle\xff"}'), 400, "structure", "not-utf8"),
    BadInput("10 comment", raw(b'{"resourceType":"Bundle" /* Planted */}'), 400, "structure", "not-json",
             planted="Planted"),
    BadInput("11 single quotes", raw(b"{'resourceType':'Bundle'}"), 400, "structure", "not-json"),
    BadInput("12 duplicate key", text_of(WOUND, '"status":"final"', '"status":"final","status":"final"'),
             400, "structure", "duplicate-key"),
    BadInput("13 two subjects", text_of(
        WOUND, '"subject":', '"subject":{"reference":"Patient/Planted"},"subject":'), 400, "structure",
        "duplicate-key", planted="Planted"),
    BadInput("wrong resource at the root", raw(b'{"resourceType":"Patient","id":"Planted"}'), 400, "structure",
             "root-not-accepted", planted="Planted"),
]

SIZE = [
    BadInput("25 too many entries", raw(TEN_THOUSAND_ONE), 413, "too-costly", "too-many-entries", "Bundle.entry"),
    BadInput("26 one long text", wounds(WOUND | {"note": [{"text": "x" * 5_000_000}]}), 413, "too-long",
             "text-too-long", f"{FIRST_WOUND}.note[0].text"),
    BadInput("27 deep arrays", raw(DEEP), 400, "structure", "nested-too-deep"),
    BadInput("28 nested extension", wounds(WOUND | {"extension": nested_extension(60)}), 422, "too-costly",
             "extension-too-deep", FIRST_WOUND),
    BadInput("29 contained in contained", wounds(WOUND | {"contained": [
        {"resourceType": "Patient", "id": "a", "contained": [{"resourceType": "Patient", "id": "b"}]}]}),
        400, "structure", "contained-in-contained", f"{FIRST_WOUND}.contained[0].contained"),
    BadInput("30 Bundle in Bundle", wounds(WOUND, {"resourceType": "Bundle", "type": "collection"}), 422,
             "not-supported", "bundle-in-bundle", ENTRY.format(6)),
    BadInput("31 many extensions", wounds(WOUND | {"extension": [
        {"url": "https://record.example/e", "valueInteger": 1}] * 1000}), 422, "too-costly",
        "too-many-extensions", f"{FIRST_WOUND}.extension"),
    BadInput("32 too many wounds", many_wounds, 422, "too-costly", "too-many-wounds", f"{ENTRY.format(205)}.value"),
]

TEXT = [
    BadInput("35 NUL", wounds(WOUND | {"note": [{"text": "Pl\x00anted"}]}), 400, "value", "control-character",
             f"{FIRST_WOUND}.note[0].text", planted="anted"),
    BadInput("36 lone surrogate", text_of(WOUND | {"note": [{"text": "here"}]}, '"here"', '"\\ud800"'), 400,
             "value", "control-character", f"{FIRST_WOUND}.note[0].text"),
    BadInput("38 homoglyph unit", instead_of(2, weight(70, code="\u043ag")), 422, "code-invalid", "unit-unknown",
             f"{WEIGHT}.value.code", planted="\u043ag"),
    BadInput("43 long id", wounds(WOUND | {"id": "Planted" + "1" * 58}), 400, "value", "id-too-long",
             f"{FIRST_WOUND}.id", planted="Planted"),
    BadInput("44 path as id", wounds(WOUND | {"id": "../../Planted"}), 400, "value", "value-invalid",
             f"{FIRST_WOUND}.id", planted="Planted"),
]

NUMBERS = [
    BadInput("46 NaN", text_of(WOUND, '"value":4.5', '"value":NaN'), 400, "structure", "number-not-finite"),
    BadInput("47 1e400", text_of(WOUND, '"value":4.5', '"value":1e400'), 400, "value", "number-out-of-range",
             planted="1e400"),
    BadInput("48 1e-400", text_of(WOUND, '"value":4.5', '"value":1e-400'), 422, "value", "value-vanishing",
             f"{FIRST_WOUND}.value.value", planted="1e-400"),
    BadInput("50 quoted number", text_of(WOUND, '"value":4.5', '"value":"4.7731"'), 400, "structure",
             "not-a-number", f"{FIRST_WOUND}.value.value", planted="4.7731"),
    BadInput("51 leading zeros", text_of(WOUND, '"value":4.5', '"value":007'), 400, "structure", "not-json"),
    BadInput("54 large integer", text_of(WOUND, '"value":4.5', '"value":9223372036854775808'), 400, "value",
             "number-out-of-range", planted="9223372036854775808"),
    BadInput("55 true for a number", text_of(WOUND, '"value":4.5', '"value":true'), 400, "structure",
             "not-a-number", f"{FIRST_WOUND}.value.value"),
]

DATES = [
    BadInput("56 no such day", wounds(make.burn_wound(seen="2026-02-30")), 400, "value", "date-invalid",
             f"{FIRST_WOUND}.effective", planted="2026-02-30"),
    BadInput("57 no zone", wounds(make.burn_wound(seen="2026-03-03T08:31:07")), 400, "value", "time-without-zone",
             f"{FIRST_WOUND}.effective", planted="08:31:07"),
    BadInput("58 integer date", wounds(make.burn_wound(seen=1700000000)), 400, "structure", "not-a-text",
             f"{FIRST_WOUND}.effective", planted="1700000000"),
    BadInput("59 year of a Procedure", wounds(WOUND, *make.deed(
        "wound-excision", "left thigh front", "2026", "x1", 100)), 422, "value", "day-needed",
        f"{ENTRY.format(6)}.performed"),
    BadInput("61 burn in the future", instead_of(1, make.burn("2026-04-17")), 422, "business-rule",
             "date-in-future", f"{ENTRY.format(1)}.onset", planted="2026-04-17"),
    BadInput("62 old extent", wounds(make.burn_wound(seen="2016-03-17")), 422, "business-rule", "before-injury",
             f"{FIRST_WOUND}.effective", planted="2016-03-17"),
    BadInput("62 old weight", instead_of(2, make.measured("weight", 70, seen="2016-03-17")), 422,
             "business-rule", "observation-stale", f"{WEIGHT}.effective", planted="2016-03-17"),
    BadInput("64 excision before the injury", wounds(WOUND, *make.deed(
        "wound-excision", "left thigh front", "2026-02-17", "x1", 100)), 422, "business-rule", "before-injury",
        f"{ENTRY.format(6)}.performed", planted="2026-02-17"),
    BadInput("66 offset", wounds(make.burn_wound(seen="2026-03-03T08:30:00+15:00")), 400, "value",
             "date-invalid", f"{FIRST_WOUND}.effective", planted="+15:00"),
    BadInput("69 period reversed", wounds(without(make.burn_wound(
        effectivePeriod={"start": "2026-03-03", "end": "2026-03-02"}), "effectiveDateTime")), 422, "invariant",
        "period-reversed", f"{FIRST_WOUND}.effective"),
]

UNITS = [
    BadInput("72 no unit code", instead_of(2, without(weight("70.731"), "valueQuantity", "code")), 422,
             "required", "unit-required", f"{WEIGHT}.value", planted="70.731"),
    BadInput("73 unit against code", instead_of(2, weight(70000, "g", unit="kg")), 422, "conflict",
             "unit-conflict", f"{WEIGHT}.value.unit", planted="70000"),
    BadInput("75 fraction as percent", wounds(make.burn_wound(percent="0.37")), 422, "value",
             "percent-or-fraction", f"{FIRST_WOUND}.value", planted="0.37"),
    BadInput("76 percent as ratio", wounds(WOUND | {"valueQuantity": make.quantity("37.1", "1")}), 422,
             "code-invalid", "unit-unknown", f"{FIRST_WOUND}.value.code", planted="37.1"),
    BadInput("78 area in cm", wounds(make.open_wound() | {"valueQuantity": make.quantity("117.3", "cm")}), 422,
             "code-invalid", "unit-unknown", f"{FIRST_WOUND}.value.code", planted="117.3"),
    BadInput("80 not UCUM", instead_of(2, weight(70, system="https://record.example/units")), 422,
             "code-invalid", "unit-system", f"{WEIGHT}.value.system", planted="record.example/units"),
    BadInput("81 thickness in inches", wounds(WOUND, *make.harvest(
        "right thigh front", "2026-03-03", "h1", 100, "0.31")[:2], make.part_of(
            "h1", "graft-thickness", seen="2026-03-03", valueQuantity=make.quantity("0.31", "[in_i]"))), 422,
        "value", "value-range", f"{ENTRY.format(8)}.value.value", planted="0.31"),
]

CODES = [
    BadInput("82 unknown region", wounds(WOUND | {"bodySite": make.local("Planted", "left")}), 422,
             "code-invalid", "code-unknown", f"{FIRST_WOUND}.bodySite.coding[0].code", planted="Planted"),
    BadInput("83 no side", wounds(WOUND | {"bodySite": make.local("thigh")}), 422, "required", "side-missing",
             f"{FIRST_WOUND}.bodySite"),
    BadInput("84 both sides", wounds(WOUND | {"bodySite": make.local("thigh", "left", "right")}), 422,
             "conflict", "code-conflict", f"{FIRST_WOUND}.bodySite"),
    BadInput("87 unknown status", wounds(WOUND | {"status": "planted"}), 400, "code-invalid",
             "code-not-in-binding", f"{FIRST_WOUND}.status", planted="planted"),
    BadInput("88 right code, wrong system", wounds(WOUND | {"code": {"coding": [
        {"system": "https://record.example/codes", "code": "burn-extent"}]}}), 422, "code-invalid",
        "code-system-unknown", f"{FIRST_WOUND}.code.coding[0].system", planted="record.example/codes"),
    BadInput("89 unknown depth", wounds(make.burn_wound(depth="planted-degree")), 422, "code-invalid",
             "code-unknown", f"{FIRST_WOUND}.component[1].value.coding[0].code", planted="planted-degree"),
    BadInput("91 modifierExtension", wounds(WOUND | {"modifierExtension": [
        {"url": "https://record.example/planted", "valueBoolean": True}]}), 422, "extension",
        "modifier-extension", f"{FIRST_WOUND}.modifierExtension", planted="planted"),
    BadInput("unknown element", wounds(WOUND | {"planted": 1}), 400, "structure", "element-unknown",
             f"{FIRST_WOUND}.planted"),
]

CONTRADICTIONS = [
    BadInput("94 more burn than region", wounds(make.burn_wound(percent="6.37")), 422, "invariant",
             "extents-over-region", f"{FIRST_WOUND}.value", planted="6.37"),
    BadInput("95 total against sum", wounds(make.burn_wound(percent="4.7"), make.stated(
        "total-burn-extent", valueQuantity=make.quantity("21.7", "%"))), 422, "conflict", "total-against-sum",
        f"{ENTRY.format(6)}.value", planted="21.7"),
    BadInput("98 negative weight", instead_of(2, weight("-71.7")), 422, "value", "value-range",
             f"{WEIGHT}.value.value", planted="71.7"),
    BadInput("99 heavy adult", instead_of(2, weight("713.7")), 422, "value", "value-range",
             f"{WEIGHT}.value.value", planted="713.7"),
    BadInput("99 light adult", instead_of(2, weight("7.37")), 422, "business-rule", "value-implausible-for-age",
             f"{WEIGHT}.value", planted="7.37"),
    BadInput("103 two patients", wounds(WOUND, make.patient("planted")), 422, "multiple-matches",
             "patient-twice", ENTRY.format(6), planted="planted"),
    BadInput("105 subject elsewhere", wounds(WOUND | {"subject": {"reference": "Patient/planted"}}), 422,
             "conflict", "subject-other", f"{FIRST_WOUND}.subject", planted="planted"),
    BadInput("108 deceased", instead_of(0, make.patient(deceasedBoolean=True)), 422, "business-rule",
             "patient-deceased", f"{ENTRY.format(0)}.deceased"),
    BadInput("120 two values at one time", wounds(make.burn_wound(percent="3.7"), make.burn_wound(percent="2.7")),
             422, "duplicate", "same-time-twice", FIRST_WOUND, planted="3.7"),
    BadInput("123 reference to nothing", wounds(WOUND, make.part_of(
        "planted", "treated-area", seen="2026-03-03", valueQuantity=make.quantity(100, "cm2"))), 422,
        "not-found", "reference-not-found", f"{ENTRY.format(6)}.partOf[0]", planted="planted"),
    BadInput("124 reference to an inner address", wounds(WOUND | {
        "subject": {"reference": "http://169.254.0.7/planted/Patient/1"}}), 422, "conflict", "subject-other",
        f"{FIRST_WOUND}.subject", planted="169.254"),
    BadInput("127 focus", wounds(WOUND | {"focus": [{"reference": "Patient/p1"}]}), 422, "not-supported",
             "focus-set", f"{FIRST_WOUND}.focus"),
]


def shared_full_url() -> bytes:
    record = make.record(WOUND)
    entries = record["parameter"][0]["resource"]["entry"]
    entries[5]["fullUrl"] = entries[4]["fullUrl"]
    return make.body_of(record)


IDENTITY = [
    BadInput("122 one fullUrl twice", shared_full_url, 422, "duplicate", "full-url-twice",
             "Parameters.parameter[0].resource.entry[5].fullUrl"),
]


def with_parameter(sent: dict) -> Callable[[], bytes]:
    def body() -> bytes:
        record = make.record(WOUND)
        record["parameter"].append(sent)
        return make.body_of(record)
    return body


PARAMETER = "Parameters.parameter[2]"
PARAMETERS = [
    BadInput("unknown parameter", with_parameter({"name": "planted", "valueInteger": 1}), 422, "not-supported",
             "parameter-unknown", f"{PARAMETER}.name", planted="planted"),
    BadInput("parameter twice", with_parameter({"name": "as-of", "valueInstant": make.AS_OF}), 422, "duplicate",
             "parameter-twice", f"{PARAMETER}.name"),
    BadInput("time zone", with_parameter({"name": "time-zone", "valueString": "Planted/City"}), 422,
             "code-invalid", "time-zone-unknown", f"{PARAMETER}.value", planted="Planted"),
    BadInput("negative stock", with_parameter(
        {"name": "cover-stock", "valueQuantity": make.quantity(Decimal("-17.3"), "cm2")}), 422, "value",
        "value-range", f"{PARAMETER}.value.value", planted="17.3"),
    BadInput("method", with_parameter({"name": "method-available", "valueCode": "planted"}), 422,
             "code-invalid", "parameter-code", f"{PARAMETER}.value", planted="planted"),
    BadInput("decision without its side", with_parameter(make.grouped(
        "fixed-decision", act=("Code", "place"), region=("Code", "hand"))), 422, "required", "side-missing",
        f"{PARAMETER}.part"),
    BadInput("preference", with_parameter(make.grouped(
        "preference", name=("String", "planted"), value=("Decimal", 1))), 422, "code-invalid",
        "preference-unknown", f"{PARAMETER}.part", planted="planted"),
    BadInput("preference out of range", with_parameter(make.grouped(
        "preference", name=("String", "session-weight"), value=("Decimal", 98765))), 422, "value",
        "preference-range", f"{PARAMETER}.part", planted="98765"),
]

CATALOGUE = [
    *SYNTAX, *SIZE, *TEXT, *NUMBERS, *DATES, *UNITS, *CODES, *CONTRADICTIONS, *IDENTITY, *PARAMETERS,
]
