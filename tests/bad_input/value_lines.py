"""Lines 35 to 81: texts, numbers, dates and units."""

from __future__ import annotations

from tests import builders as make
from tests.bad_input.case import (
    ENTRY,
    FIRST_WOUND,
    SECOND,
    WEIGHT,
    WOUND,
    BadInput,
    instead_of,
    text_of,
    weight,
    without,
    wounds,
)

VALUE = f"{FIRST_WOUND}.value.value"
SEEN_AT = f"{FIRST_WOUND}.effective"


def narrative(text: str) -> dict:
    div = f'<div xmlns="http://www.w3.org/1999/xhtml">{text}</div>'
    return WOUND | {"text": {"status": "generated", "div": div}}


def number(new: str) -> object:
    """The percent of the wound written in another way."""
    return text_of(WOUND, '"value":4.5', f'"value":{new}')


def child_with_old_weight() -> bytes:
    needed = [
        make.patient(birth_date="2020-03-01"), make.burn(), make.measured("weight", 20, seen="2026-01-17"),
        make.measured("height", 115), make.measured("haemoglobin", 12)]
    return make.body_of(make.parameters(make.bundle(*needed, make.burn_wound(percent="2"))))


def in_zone(zone: str, as_of: str) -> object:
    def body() -> bytes:
        return make.body_of(make.parameters(
            make.bundle(*make.needed(), WOUND), as_of=("Instant", as_of), time_zone=("String", zone)))
    return body


TEXT = [
    BadInput(35, "NUL", wounds(WOUND | {"note": [{"text": "Pl\x00anted"}]}), 400, "value", "control-character",
             f"{FIRST_WOUND}.note[0].text", planted="anted"),
    BadInput(36, "lone surrogate", text_of(WOUND | {"note": [{"text": "here"}]}, '"here"', '"\\ud800"'), 400,
             "value", "control-character", f"{FIRST_WOUND}.note[0].text"),
    BadInput(37, "turned writing", wounds(WOUND | {"note": [{"text": "Pl\u202eanted"}]}), 200, "value",
             "direction-override", f"{FIRST_WOUND}.note[0].text", planted="\u202e"),
    BadInput(38, "look-alike unit", instead_of(2, weight(70, code="\u043ag")), 422, "code-invalid",
             "unit-unknown", f"{WEIGHT}.value.code", planted="\u043ag"),
    BadInput(39, "script", wounds(narrative("<script>planted()</script>")), 200, "security",
             "narrative-active", f"{FIRST_WOUND}.text.div", planted="planted"),
    BadInput(40, "script address", wounds(narrative('<a href="\tjavascript:planted()">x</a>')), 200, "security",
             "narrative-active", f"{FIRST_WOUND}.text.div", planted="planted"),
    BadInput(41, "entities", wounds(narrative("<!DOCTYPE x [<!ENTITY planted 'planted'>]>&planted;")), 200,
             "security", "narrative-active", f"{FIRST_WOUND}.text.div", planted="planted"),
    BadInput(42, "line breaks", wounds(WOUND | {"note": [{"text": "x\r\nINFO planted"}]}), 200, planted="planted"),
    BadInput(43, "long id", wounds(WOUND | {"id": "Planted" + "1" * 58}), 400, "value", "id-too-long",
             f"{FIRST_WOUND}.id", planted="Planted"),
    BadInput(44, "path as id", wounds(WOUND | {"id": "../../Planted"}), 400, "value", "value-invalid",
             f"{FIRST_WOUND}.id", planted="Planted"),
    BadInput(45, "template", instead_of(0, make.patient(name=[{"family": "{{7*7}}", "given": ["${jndi:x}"]}])), 200,
             planted="{{7*7}}"),
]

NUMBERS = [
    BadInput(46, "NaN", number("NaN"), 400, "structure", "number-not-finite"),
    BadInput(46, "Infinity", number("-Infinity"), 400, "structure", "number-not-finite"),
    BadInput(47, "1e400", number("1e400"), 400, "value", "number-out-of-range", planted="1e400"),
    BadInput(48, "1e-400", number("1e-400"), 422, "value", "value-vanishing", VALUE, planted="1e-400"),
    BadInput(49, "31 digits", instead_of(2, weight("154.3000000000000000000000000017", "[lb_av]")), 200,
             shown="154.3000000000000000000000000017 [lb_av]"),
    BadInput(50, "quoted number", number('"4.7731"'), 400, "structure", "not-a-number", VALUE, planted="4.7731"),
    BadInput(51, "leading zeros", number("007"), 400, "structure", "not-json"),
    BadInput(51, "plus sign", number("+5"), 400, "structure", "not-json"),
    BadInput(51, "bare point", number("1."), 400, "structure", "not-json"),
    BadInput(52, "minus zero", number("-0"), 200, shown="Nothing needs a graft"),
    BadInput(53, "zero at the end", instead_of(2, weight("154.30", "[lb_av]")), 200, shown="154.30 [lb_av]"),
    BadInput(54, "large integer", number("9223372036854775808"), 400, "value", "number-out-of-range",
             planted="9223372036854775808"),
    BadInput(55, "true for a number", number("true"), 400, "structure", "not-a-number", VALUE),
]

DATES = [
    BadInput(56, "no such day", wounds(make.burn_wound(seen="2026-02-30")), 400, "value", "date-invalid",
             SEEN_AT, planted="2026-02-30"),
    BadInput(57, "no zone", wounds(make.burn_wound(seen="2026-03-03T08:31:07")), 400, "value",
             "time-without-zone", SEEN_AT, planted="08:31:07"),
    BadInput(58, "integer date", wounds(make.burn_wound(seen=1700000000)), 400, "structure", "not-a-text",
             SEEN_AT, planted="1700000000"),
    BadInput(59, "year of a Procedure", wounds(WOUND, *make.deed(
        "wound-excision", "left thigh front", "2026", "x1", 100)), 422, "value", "day-needed",
        f"{SECOND}.performed"),
    BadInput(60, "month of birth", instead_of(0, make.patient(birth_date="2015-03"), make.burn_wound(percent="2")),
             200, "", "birth-date-imprecise"),
    BadInput(61, "burn in the future", instead_of(1, make.burn("2026-04-17")), 422, "business-rule",
             "date-in-future", f"{ENTRY.format(1)}.onset", planted="2026-04-17"),
    BadInput(62, "old extent", wounds(make.burn_wound(seen="2016-03-17")), 422, "business-rule", "before-injury",
             SEEN_AT, planted="2016-03-17"),
    BadInput(62, "old weight", instead_of(2, make.measured("weight", 70, seen="2016-03-17")), 422,
             "business-rule", "observation-stale", f"{WEIGHT}.effective", planted="2016-03-17"),
    BadInput(63, "child's weight", child_with_old_weight, 200, "", "weight-old-in-child"),
    BadInput(64, "excision before the injury", wounds(WOUND, *make.deed(
        "wound-excision", "left thigh front", "2026-02-17", "x1", 100)), 422, "business-rule", "before-injury",
        f"{SECOND}.performed", planted="2026-02-17"),
    BadInput(65, "healing before the harvest", wounds(
        WOUND, *make.harvest("right thigh front", "2026-03-03", "h1", 100, "0.25"),
        make.donor_site("right thigh front", "healing", seen="2026-03-02")), 422, "invariant",
        "healing-before-harvest", f"{ENTRY.format(9)}.effective"),
    BadInput(66, "offset", wounds(make.burn_wound(seen="2026-03-03T08:30:00+15:00")), 400, "value",
             "date-invalid", SEEN_AT, planted="+15:00"),
    BadInput(67, "leap second", wounds(make.burn_wound(seen="2026-03-03T23:59:60Z")), 200),
    BadInput(68, "hour that is skipped", in_zone("Europe/Zurich", "2026-03-29T02:30:00+01:00"), 200,
             shown="03:30 (Europe/Zurich)"),
    BadInput(69, "period reversed", wounds(without(make.burn_wound(
        effectivePeriod={"start": "2026-03-03", "end": "2026-03-02"}), "effectiveDateTime")), 422, "invariant",
        "period-reversed", SEEN_AT),
]

UNITS = [
    BadInput(71, "pounds", instead_of(2, weight("154.3", "[lb_av]")), 200, shown="sent as 154.3 [lb_av]"),
    BadInput(72, "no unit code", instead_of(2, without(weight("70.731"), "valueQuantity", "code")), 422,
             "required", "unit-required", f"{WEIGHT}.value", planted="70.731"),
    BadInput(73, "unit against code", instead_of(2, weight(70000, "g", unit="kg")), 422, "conflict",
             "unit-conflict", f"{WEIGHT}.value.unit", planted="70000"),
    BadInput(74, "inches", instead_of(3, make.measured("height", "69.3", "[in_i]")), 200,
             shown="sent as 69.3 [in_i]"),
    BadInput(75, "fraction as percent", wounds(make.burn_wound(percent="0.37")), 422, "value",
             "percent-or-fraction", f"{FIRST_WOUND}.value", planted="0.37"),
    BadInput(76, "percent as ratio", wounds(WOUND | {"valueQuantity": make.quantity("37.1", "1")}), 422,
             "code-invalid", "unit-unknown", f"{FIRST_WOUND}.value.code", planted="37.1"),
    BadInput(77, "square metres", wounds(WOUND, make.open_wound() | {
        "valueQuantity": make.quantity("0.0117", "m2")}), 200, shown="117 cm²"),
    BadInput(78, "area in cm", wounds(make.open_wound() | {"valueQuantity": make.quantity("117.3", "cm")}), 422,
             "code-invalid", "unit-unknown", f"{FIRST_WOUND}.value.code", planted="117.3"),
    BadInput(79, "ratio reversed", wounds(WOUND, *make.placement(
        "left thigh front", "2026-03-03", "g1", 100, "meshed", "3-1")), 422, "code-invalid", "code-unknown",
        f"{ENTRY.format(9)}.value.coding[0].code"),
    BadInput(80, "not UCUM", instead_of(2, weight(70, system="https://record.example/units")), 422,
             "code-invalid", "unit-system", f"{WEIGHT}.value.system", planted="record.example/units"),
    BadInput(81, "thickness in inches", wounds(WOUND, *make.harvest(
        "right thigh front", "2026-03-03", "h1", 100, "0.31")[:2], make.part_of(
            "h1", "graft-thickness", seen="2026-03-03", valueQuantity=make.quantity("0.31", "[in_i]"))), 422,
        "value", "value-range", f"{ENTRY.format(8)}.value.value", planted="0.31"),
]
