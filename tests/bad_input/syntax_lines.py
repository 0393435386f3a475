"""Lines 1 to 13 and 25 to 34: what is no JSON, no FHIR, or too much of either."""

from __future__ import annotations

from service.domain.body_region import Place, all_places
from service.domain.burn_wound import Depth
from tests import builders as make
from tests.bad_input.case import ENTRY, FIRST_WOUND, SECOND, WOUND, BadInput, raw, text_of, wounds

DEEP = b'{"resourceType":"Bundle","a":' + b"[" * 100_000 + b"]" * 100_000 + b"}"
TEN_THOUSAND_ONE = b'{"resourceType":"Bundle","type":"collection","entry":[' + b"{}," * 10_000 + b"{}]}"
FIFTY_MEGABYTES = 50_000_000


def structure(line: int, name: str, body: bytes, error_id: str = "not-json", planted: str = "") -> BadInput:
    return BadInput(line, name, raw(body), 400, "structure", error_id, planted=planted)


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


def attachment() -> bytes:
    document = {"resourceType": "DocumentReference", "content": [{"attachment": {"data": "A" * FIFTY_MEGABYTES}}]}
    return make.body_of(make.record(WOUND, document))


def excision(procedure_id: str, part_of: str) -> list[dict]:
    done, area = make.deed("wound-excision", "left thigh front", "2026-03-03", procedure_id, 50)
    return [done | {"partOf": [{"reference": f"Procedure/{part_of}"}]}, area]


def area_of(observation_id: str, part_of: str) -> dict:
    area = make.part_of("x", "treated-area", seen=make.SEEN, valueQuantity=make.quantity(50, "cm2"))
    return area | {"id": observation_id, "partOf": [{"reference": f"Observation/{part_of}"}]}


SYNTAX = [
    structure(1, "empty", b"", "body-empty"),
    structure(2, "white space", b" \n\t ", "body-empty"),
    structure(3, "null", b"null", "not-an-object"),
    structure(3, "list", b"[]", "not-an-object"),
    structure(3, "text", b'"Planted"', "not-an-object", "Planted"),
    structure(3, "number", b"4217", "not-an-object", "4217"),
    structure(4, "cut off", b'{"resourceType":"Bundle","type":"coll'),
    structure(5, "trailing comma", b'{"resourceType":"Bundle",}'),
    structure(6, "trailing text", b'{"resourceType":"Bundle"} Planted', planted="Planted"),
    structure(7, "byte order mark", b'\xef\xbb\xbf{"resourceType":"Bundle"}', "not-utf8"),
    structure(8, "UTF-16", '{"resourceType":"Bundle"}'.encode("utf-16"), "not-utf8"),
    structure(9, "no UTF-8", b'{"resourceType":"Bundle\xff"}', "not-utf8"),
    structure(10, "comment", b'{"resourceType":"Bundle" /* Planted */}', planted="Planted"),
    structure(11, "single quotes", b"{'resourceType':'Bundle'}"),
    BadInput(12, "key twice", text_of(WOUND, '"status":"final"', '"status":"final","status":"final"'),
             400, "structure", "duplicate-key"),
    BadInput(13, "two subjects", text_of(
        WOUND, '"subject":', '"subject":{"reference":"Patient/Planted"},"subject":'), 400, "structure",
        "duplicate-key", planted="Planted"),
    structure(0, "another resource at the root", b'{"resourceType":"Patient","id":"Planted"}', "root-not-accepted",
              "Planted"),
]

SIZE = [
    BadInput(25, "entries", raw(TEN_THOUSAND_ONE), 413, "too-costly", "too-many-entries", "Bundle.entry"),
    BadInput(26, "long text", wounds(WOUND | {"note": [{"text": "x" * 5_000_000}]}), 413, "too-long",
             "text-too-long", f"{FIRST_WOUND}.note[0].text"),
    structure(27, "deep arrays", DEEP, "nested-too-deep"),
    BadInput(28, "nested extension", wounds(WOUND | {"extension": nested_extension(60)}), 422, "too-costly",
             "extension-too-deep", FIRST_WOUND),
    BadInput(29, "contained in contained", wounds(WOUND | {"contained": [
        {"resourceType": "Patient", "id": "a", "contained": [{"resourceType": "Patient", "id": "b"}]}]}),
        400, "structure", "contained-in-contained", f"{FIRST_WOUND}.contained[0].contained"),
    BadInput(30, "Bundle in Bundle", wounds(WOUND, {"resourceType": "Bundle", "type": "collection"}), 422,
             "not-supported", "bundle-in-bundle", SECOND),
    BadInput(31, "many extensions", wounds(WOUND | {"extension": [
        {"url": "https://record.example/e", "valueInteger": 1}] * 1000}), 422, "too-costly",
        "too-many-extensions", f"{FIRST_WOUND}.extension"),
    BadInput(32, "wounds", many_wounds, 422, "too-costly", "too-many-wounds", f"{ENTRY.format(205)}.value"),
    BadInput(33, "circle that nothing follows", wounds(WOUND, *excision("a", "b"), *excision("b", "a")), 200),
    BadInput(33, "circle on the way to a number", wounds(WOUND, area_of("a", "b"), area_of("b", "a")), 422,
             "conflict", "reference-wrong-type", f"{SECOND}.partOf[0]"),
    BadInput(34, "attachment", attachment, 413, "too-long", "body-too-large"),
]
