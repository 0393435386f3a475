"""Orders about to be signed: a warning when the donor sites cannot give the skin, or have not healed."""

import json
from uuid import uuid4

import pytest

from service.domain.errors import ServiceFault
from service.fhir.hook_services import GRAFT_ORDER
from service.settings import Settings
from service.wiring import build_parts
from tests.builders import Resource, local, quantity, site_codes
from tests.cds_hooks.conftest import Record
from tests.cds_hooks.hook_calls import hook_call
from tests.cds_hooks.rules import answer_faults, discovery_faults
from tests.conftest import SAMPLES

PATH = f"/cds-services/{GRAFT_ORDER.id}"
MAP = SAMPLES / "cds-hooks" / "order-map.csv"
SYSTEM = "https://record.example/orders"
DAY = "2026-03-13"
UNHEALED = {"code": "harvest-skin", "place": "left lower-leg back", "area_cm2": 300}


@pytest.fixture
def orders():
    return Record(Settings(database="memory", order_map=str(MAP)))


def order(code: str, place: str, area_cm2: object = None, *, day: str = DAY, patient: str, **more) -> Resource:
    stated = {} if area_cm2 is None else {"quantityQuantity": quantity(area_cm2, "cm2")}
    return {
        "resourceType": "ServiceRequest", "status": "draft", "intent": "order",
        "code": {"coding": [{"system": SYSTEM, "code": code}]},
        "subject": {"reference": f"Patient/{patient}"}, "bodySite": [local(*site_codes(place))],
        "occurrenceDateTime": day, **stated, **more}


def signing(request: Resource, *drafts: dict) -> Resource:
    """A call about draft orders of the patient of a plan request."""
    call = hook_call(request, instance=str(uuid4()), hook="order-sign")
    patient = call["context"]["patientId"]
    resources = [order(**{"patient": patient, **draft}) for draft in drafts]
    call["context"]["draftOrders"] = {
        "resourceType": "Bundle", "type": "collection", "entry": [{"resource": one} for one in resources]}
    return call


def test_without_a_map_the_service_is_not_listed_and_not_there(record, due_request):
    assert [s["id"] for s in record.http.get("/cds-services").json()["services"]] == ["graft-plan"]
    assert record.post(signing(due_request), PATH).status_code == 404


def test_with_a_map_it_is_listed(orders):
    answer = orders.http.get("/cds-services").json()
    assert list(discovery_faults(answer)) == []
    assert [(s["id"], s["hook"]) for s in answer["services"]][1] == (GRAFT_ORDER.id, "order-sign")


def test_a_harvest_that_the_site_can_give_gets_no_card(orders, due_request):
    assert orders.cards(signing(due_request, {"code": "harvest-skin", "place": "left thigh back", "area_cm2": 300}),
                        PATH) == []


def test_a_harvest_before_the_site_has_healed_is_critical(orders, due_request):
    (card,) = orders.cards(signing(due_request, UNHEALED), PATH)
    assert card["indicator"] == "critical" and "before it has healed" in card["summary"]
    assert "300 cm² ordered" in card["summary"] and DAY in card["summary"]
    assert list(answer_faults({"cards": [card]})) == [] and "suggestions" not in card
    assert card["detail"].startswith("Based on data of 2026-03-12")


def test_more_than_a_site_holds_is_a_warning(orders, due_request):
    (card,) = orders.cards(
        signing(due_request, {"code": "harvest-skin", "place": "left thigh back", "area_cm2": 2_000}), PATH)
    assert card["indicator"] == "warning" and "2,000 cm² ordered" in card["summary"]


def test_a_harvest_where_there_is_no_skin_is_a_warning(orders, due_request):
    (card,) = orders.cards(signing(due_request, {"code": "harvest-skin", "place": "face"}), PATH)
    assert card["indicator"] == "warning" and "no skin can be taken there" in card["summary"]


def test_two_orders_of_one_site_are_counted_together(orders, due_request):
    one = {"code": "harvest-skin", "place": "left thigh back", "area_cm2": 500}
    assert orders.cards(signing(due_request, one), PATH) == []
    (card,) = orders.cards(signing(due_request, one, one), PATH)
    assert "500 cm² ordered" in card["summary"]


def test_a_graft_that_needs_more_skin_than_there_is_is_a_warning(orders, due_request):
    small = {"code": "graft-mesh-2", "place": "left thigh front", "area_cm2": 800}
    assert orders.cards(signing(due_request, small), PATH) == []
    (card,) = orders.cards(signing(due_request, small | {"code": "graft-sheet", "area_cm2": 9_000}), PATH)
    assert card["indicator"] == "warning" and "of skin" in card["summary"]


def test_a_warning_comes_at_every_signing(orders, due_request):
    assert all(len(orders.cards(signing(due_request, UNHEALED), PATH)) == 1 for _ in range(2))


def test_orders_of_anything_else_get_no_card_and_need_no_record(orders, due_request):
    call = signing(due_request, {"code": "chest-x-ray", "place": "scalp"},
                   {"code": "harvest-skin", "place": "scalp", "doNotPerform": True})
    call["prefetch"] = {}
    assert orders.cards(call, PATH) == []


def test_an_order_for_another_patient_is_a_warning_without_its_name(orders, due_request):
    call = signing(due_request, {"code": "harvest-skin", "place": "scalp", "patient": "planted-other"})
    (card,) = orders.cards(call, PATH)
    assert card["indicator"] == "warning" and "planted-other" not in json.dumps(card)


@pytest.mark.parametrize("change", [
    {"quantityQuantity": quantity(300, "kg")}, {"quantityQuantity": quantity(-3, "cm2")}, {"bodySite": []},
    {"bodySite": [{"text": "left leg"}]}, {"occurrenceDateTime": "soon"}])
def test_an_order_that_cannot_be_read_is_a_warning(orders, due_request, change):
    call = signing(due_request, {"code": "harvest-skin", "place": "left thigh back", **change})
    (card,) = orders.cards(call, PATH)
    assert card["indicator"] == "warning" and card["summary"].startswith("No plan: ")


def test_draft_orders_are_needed(orders, due_request):
    call = signing(due_request)
    del call["context"]["draftOrders"]
    assert orders.post(call, PATH).status_code == 400


def test_a_missing_record_is_412(orders, due_request):
    call = signing(due_request, {"code": "harvest-skin", "place": "scalp"})
    del call["prefetch"]["procedures"]
    assert orders.post(call, PATH).status_code == 412


@pytest.mark.parametrize("text", [
    "", "system,code,act\n", "system,code,act,method\n", "system,code,act,method\nx,y,cut,\n",
    "system,code,act,method\nx,y,place,meshed-1-7\n", "system,code,act,method\nx,y,harvest,sheet\n",
    "system,code,act,method\nx,y,harvest,\nx,y,place,sheet\n", "system,code,act,method\n,y,harvest,\n"])
def test_a_map_with_a_fault_stops_the_start(tmp_path, text):
    path = tmp_path / "orders.csv"
    path.write_text(text)
    with pytest.raises(ServiceFault, match="order map"):
        build_parts(Settings(database="memory", order_map=str(path)))


def test_the_call_to_copy_is_warned_of(orders):
    body = (SAMPLES / "cds-hooks" / "harvest-before-healing.json").read_bytes()
    (card,) = orders.http.post(PATH, content=body, headers={"Content-Type": "application/json"}).json()["cards"]
    assert card["indicator"] == "critical"


def test_the_plan_behind_the_order_is_linked_where_requests_are_kept(due_request):
    keeping = Record(Settings(database="memory", order_map=str(MAP), keep_plan_hours=1))
    (card,) = keeping.cards(signing(due_request, UNHEALED), PATH)
    assert card["links"][0]["url"].startswith("http://testserver/plans/")


def test_an_order_of_another_patient_is_told_without_a_plan(orders, due_request, monkeypatch):
    monkeypatch.setattr("service.answer_hook.answer_plan_request", lambda *args, **more: pytest.fail("planned"))
    (card,) = orders.cards(signing(due_request, UNHEALED | {"patient": "somebody-else"}), PATH)
    assert card["indicator"] == "warning"
