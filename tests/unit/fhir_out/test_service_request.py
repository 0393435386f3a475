"""ServiceRequest: one for each session, one for each series."""

from dataclasses import replace

from service.domain.burn_wound import PlacedGraft
from service.domain.graft import GraftMethod
from service.fhir.write_evidence import cite_evidence
from service.fhir.write_plan import write_plan_bundle
from service.wording.reasons import word_why
from tests.unit.fhir_out.answers import SETTINGS, SETTLED, TRUNK_ID, D, answer, case, plan, read_result
from tests.unit.fhir_out.bundles import coded, resources


def bundle(made=None):
    return write_plan_bundle(made or answer(), read_result(), SETTINGS)


def test_one_request_for_each_session_and_each_series():
    requests = resources(bundle(), "ServiceRequest")
    codes = [r["code"]["coding"][0]["code"] for r in requests]
    assert codes == [
        "theatre-session", "theatre-session", "contingent-session", "change-outer-dressing", "inspect-graft",
        "review-plan"]


def test_a_session_carries_its_day_its_skin_and_its_acts():
    first = coded(bundle(), "ServiceRequest", "theatre-session")[0]
    assert first["occurrenceDateTime"] == "2026-03-03"
    assert first["quantityQuantity"]["value"] == D("850.3")
    assert [detail["text"].split()[0] for detail in first["orderDetail"]] == ["Excise", "Harvest", "Graft", "Temporary"]
    assert "units to have ready: 3" in first["note"][0]["text"]


def test_a_session_carries_its_theatre_list():
    notes = [note["text"] for note in coded(bundle(), "ServiceRequest", "theatre-session")[0]["note"]]
    blood = cite_evidence("blood-loss-per-cm2/excision-adult")
    assert f"blood loss: 650 (500-800) mL; evidence {blood}" in notes
    assert "Carriers: 16 at 1:4, and 2 spare." in notes
    assert "Order of work: Induction of anaesthesia (about 12 min); Dress and splint." in notes


def test_a_session_says_why_it_is_as_it_is():
    first, second = coded(bundle(), "ServiceRequest", "theatre-session")
    assert "held back by" in first["note"][0]["text"].lower()
    for request, session in ((first, SETTLED.sessions[0]), (second, SETTLED.sessions[1])):
        said = word_why(plan(), session)
        assert said and all(sentence in request["note"][0]["text"] for sentence in said)


def test_a_contingent_session_is_asked_for_only_if_grafts_are_lost():
    (contingent,) = coded(bundle(), "ServiceRequest", "contingent-session")
    assert contingent["asNeededCodeableConcept"]["text"] == "Only if grafts are lost"
    assert all("asNeededCodeableConcept" not in r for r in coded(bundle(), "ServiceRequest", "theatre-session"))


def test_a_series_lists_all_its_days():
    (series,) = coded(bundle(), "ServiceRequest", "change-outer-dressing")
    assert series["occurrenceTiming"]["event"] == [
        "2026-03-05", "2026-03-07", "2026-03-16", "2026-03-17", "2026-03-19"]


def test_a_session_keeps_its_name_when_number_and_day_shift():
    """The second session is planned again after the first was done: a first session, a day later."""
    before = coded(bundle(), "ServiceRequest", "theatre-session")[1]
    _, second, _ = SETTLED.sessions
    later = plan(settled=replace(
        SETTLED,
        sessions=(replace(second, ordinal=1, day=21),),
        excisions=(replace(SETTLED.excisions[1], day=21),),
        harvests=(replace(SETTLED.harvests[1], day=21),),
        placements=(replace(SETTLED.placements[1], day=21),),
        covers=()), skin_prices=())
    done = PlacedGraft(0, GraftMethod.MESHED_1_2, D("1500.0"))
    wounds = tuple(replace(w, placed=(done,)) if w.wound_id == TRUNK_ID else w for w in case().wounds)
    again = replace(answer(later, events=()), case=replace(case(), wounds=wounds))
    (after,) = coded(bundle(again), "ServiceRequest", "theatre-session")
    assert after["identifier"] == before["identifier"]
    assert after["occurrenceDateTime"] != before["occurrenceDateTime"]


def test_a_session_that_only_harvests_has_a_name_too():
    only_harvest = replace(SETTLED, sessions=SETTLED.sessions[:1], excisions=(), placements=(), covers=())
    (session,) = coded(bundle(answer(plan(settled=only_harvest), events=())), "ServiceRequest", "theatre-session")
    assert "right-thigh-front/theatre-session-harvest/1" in session["identifier"][0]["value"]
