"""Lines 82 to 113: codes, and clinical data that contradict each other."""

from __future__ import annotations

from service.domain.body_region import all_places
from tests import builders as make
from tests.bad_input.case import (
    ENTRY,
    FIRST_WOUND,
    SECOND,
    WEIGHT,
    WOUND,
    BadInput,
    instead_of,
    weight,
    with_parameter,
    without,
    wounds,
)
from tests.bad_input.syntax_lines import surface_of

SITE = f"{FIRST_WOUND}.bodySite"
DONOR, LATER = "right thigh front", f"{ENTRY.format(9)}"
ELSEWHERE = [{"system": "https://record.example/sites", "code": "Planted"}]


def thigh_called(display: str) -> dict:
    thigh, left = make.local("thigh", "left")["coding"]
    return WOUND | {"bodySite": {"coding": [thigh | {"display": display}, left]}}


def harvested(day: str, procedure_id: str, area_cm2: int) -> list[dict]:
    return make.harvest(DONOR, day, procedure_id, area_cm2, "0.25")


def grafted(place: str, area_cm2: int) -> list[dict]:
    return make.placement(place, "2026-03-03", "g1", area_cm2, "meshed", "1-2")


def everything_burned() -> bytes:
    return make.body_of(make.record(*[
        make.burn_wound(f"{place.side or ''} {place.region} {surface_of(place)}", 100, code="burn-extent-of-region")
        for place in all_places()]))


CODES = [
    BadInput(82, "unknown region", wounds(WOUND | {"bodySite": make.local("Planted", "left")}), 422,
             "code-invalid", "code-unknown", f"{SITE}.coding[0].code", planted="Planted"),
    BadInput(83, "no side", wounds(WOUND | {"bodySite": make.local("thigh")}), 422, "required", "side-missing", SITE),
    BadInput(84, "both sides", wounds(WOUND | {"bodySite": make.local("thigh", "left", "right")}), 422,
             "conflict", "code-conflict", SITE),
    BadInput(85, "display of another", wounds(thigh_called("Planted")), 200, "code-invalid", "display-differs",
             f"{SITE}.coding[0].display", planted="Planted", shown="left thigh, front"),
    BadInput(86, "code of the sender", wounds(WOUND | {"bodySite": {"coding": ELSEWHERE}}), 422, "code-invalid",
             "code-unknown", SITE, planted="Planted"),
    BadInput(87, "unknown status", wounds(WOUND | {"status": "planted"}), 400, "code-invalid",
             "code-not-in-binding", f"{FIRST_WOUND}.status", planted="planted"),
    BadInput(88, "right code, wrong system", wounds(WOUND | {"code": {"coding": [
        {"system": "https://record.example/codes", "code": "burn-extent"}]}}), 422, "code-invalid",
        "code-system-unknown", f"{FIRST_WOUND}.code.coding[0].system", planted="record.example/codes"),
    BadInput(89, "unknown depth", wounds(make.burn_wound(depth="planted-degree")), 422, "code-invalid",
             "code-unknown", f"{FIRST_WOUND}.component[1].value.coding[0].code", planted="planted-degree"),
    BadInput(90, "reason for absence", instead_of(2, without(weight(70), "valueQuantity") | {
        "dataAbsentReason": {"text": "planted"}}), 200, "", "weight", planted="planted"),
    BadInput(91, "modifierExtension", wounds(WOUND | {"modifierExtension": [
        {"url": "https://record.example/planted", "valueBoolean": True}]}), 422, "extension",
        "modifier-extension", f"{FIRST_WOUND}.modifierExtension", planted="planted"),
    BadInput(92, "unknown type", wounds(WOUND, {"resourceType": "Planted"}), 200, "not-supported",
             "resource-unknown-type", SECOND, planted="Planted"),
    BadInput(93, "unused type", wounds(WOUND, {"resourceType": "Claim", "id": "planted"}), 200, "informational",
             "resource-not-used", SECOND, planted="planted"),
    BadInput(0, "unknown element", wounds(WOUND | {"bodySitt": 1}), 400, "structure", "element-unknown",
             f"{FIRST_WOUND}.bodySitt"),
]

CONTRADICTIONS = [
    BadInput(94, "burn over region", wounds(make.burn_wound(percent="6.37")), 422, "invariant",
             "extents-over-region", f"{FIRST_WOUND}.value", planted="6.37"),
    BadInput(95, "total against sum", wounds(make.burn_wound(percent="4.7"), make.stated(
        "total-burn-extent", valueQuantity=make.quantity("21.7", "%"))), 422, "conflict", "total-against-sum",
        f"{SECOND}.value", planted="21.7"),
    BadInput(96, "harvest from a burn", wounds(make.burn_wound(DONOR, 100, code="burn-extent-of-region"),
             *harvested("2026-03-03", "h1", 117)), 422, "conflict", "harvest-from-burn", SECOND, planted="117"),
    BadInput(97, "large harvest", wounds(WOUND, *harvested("2026-03-03", "h1", 4017)), 422, "invariant",
             "area-over-place", SECOND, planted="4017"),
    BadInput(98, "negative weight", instead_of(2, weight("-71.7")), 422, "value", "value-range",
             f"{WEIGHT}.value.value", planted="71.7"),
    BadInput(99, "heavy adult", instead_of(2, weight("713.7")), 422, "value", "value-range",
             f"{WEIGHT}.value.value", planted="713.7"),
    BadInput(99, "light adult", instead_of(2, weight("7.37")), 422, "business-rule", "value-implausible-for-age",
             f"{WEIGHT}.value", planted="7.37"),
    BadInput(100, "graft over place", wounds(WOUND, *grafted("left thigh front", 3717)), 422, "invariant",
             "area-over-place", SECOND, planted="3717"),
    BadInput(100, "graft over wound", wounds(make.burn_wound(percent="1"), *grafted("left thigh front", 700)), 200,
             "", "history-exceeds-wound"),
    BadInput(100, "graft without wound", wounds(WOUND, *grafted(DONOR, 500)), 200, "conflict",
             "graft-without-wound", SECOND),
    BadInput(101, "harvests of one day", wounds(
        WOUND, *harvested("2026-03-03", "h1", 617), *harvested("2026-03-03", "h2", 717)), 422, "invariant",
        "area-over-place", LATER, planted="717"),
    BadInput(102, "harvest of unhealed skin", wounds(
        WOUND, *harvested("2026-03-02", "h1", 800), *harvested("2026-03-04", "h2", 800)), 200, "business-rule",
        "harvest-before-healing", f"{LATER}.performed"),
    BadInput(103, "two patients", wounds(WOUND, make.patient("planted")), 422, "multiple-matches",
             "patient-twice", SECOND, planted="planted"),
    BadInput(104, "no patient", instead_of(0, None), 200, "", "patient"),
    BadInput(105, "subject elsewhere", wounds(WOUND | {"subject": {"reference": "Patient/planted"}}), 422,
             "conflict", "subject-other", f"{FIRST_WOUND}.subject", planted="planted"),
    BadInput(106, "no birth date", instead_of(0, make.patient(birth_date=None)), 200, "", "birth-date"),
    BadInput(107, "chart asked for", with_parameter({"name": "body-chart", "valueCode": "planted"}), 422,
             "not-supported", "parameter-unknown", "Parameters.parameter[2].name", planted="planted"),
    BadInput(108, "deceased", instead_of(0, make.patient(deceasedBoolean=True)), 422, "business-rule",
             "patient-deceased", f"{ENTRY.format(0)}.deceased"),
    BadInput(109, "weight against height", instead_of(2, weight(190)), 200, "", "body-surface-formulas-differ"),
    BadInput(110, "graft on a superficial burn", wounds(
        make.burn_wound(depth="superficial-partial"), *grafted("left thigh front", 100)), 200, "conflict",
        "graft-on-superficial-burn", SECOND),
    BadInput(111, "no burn", wounds(make.burn_wound(percent=0)), 200,
             shown="Nothing needs a graft, so no session is planned."),
    BadInput(112, "no skin", everything_burned, 200, "", "not-enough-skin"),
    BadInput(113, "impossible decision", with_parameter(make.grouped(
        "fixed-decision", act=("Code", "harvest"), region=("Code", "face"))), 200, "", "fixed-decision-infeasible",
        shown="No plan is made."),
]
