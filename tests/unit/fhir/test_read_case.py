"""What counts, what is set aside, what is missing: the reading as a whole."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from service.domain.body_region import Region, Side
from service.domain.errors import InvalidCase
from service.domain.patient import AllergyAnswer, Sex, TreatmentIntent
from service.fhir.read_case import examine_request, read_request
from tests import builders as make
from tests.unit.fhir.reading import errors, missing, notes, read, set_aside

WOUND = make.burn_wound()


def read_instead(index: int, resource: dict | None):
    """A complete record in which one of the needed resources is another, or none."""
    resources = make.needed()
    resources[index:index + 1] = [resource] if resource else []
    return examine_request(make.body_of(make.parameters(make.bundle(*resources, WOUND))))


def test_a_complete_record_is_read():
    result = read(WOUND)
    extent, = result.record.extents
    assert (extent.place.key, str(extent.depth), str(extent.percent_tbsa)) == (
        "left-thigh-front", "full-thickness", "4.5")
    assert result.sources[extent.source].full_url == f"{make.SERVER}/Observation/r5"
    assert result.record.patient.injury == date(2026, 3, 2)
    assert result.record.patient.sulfonamide_allergy is AllergyAnswer.NOT_RECORDED


def test_a_bare_bundle_is_read_as_of_the_argument():
    body = make.body_of(make.bundle(*make.needed(), WOUND))
    as_of = datetime(2026, 3, 4, 8, tzinfo=UTC)
    assert read_request(body, as_of=as_of).request.as_of == as_of


def test_the_as_of_asked_for_beside_the_request_comes_first():
    later = datetime.fromisoformat(make.AS_OF) + timedelta(days=1)
    assert read_request(make.body_of(make.record(WOUND)), as_of=later).request.as_of == later
    assert read_request(make.body_of(make.record(WOUND))).request.as_of == datetime.fromisoformat(make.AS_OF)


@pytest.mark.parametrize("kind", ["collection", "searchset", "batch", "transaction"])
def test_each_type_of_bundle_is_read_and_its_requests_are_ignored(kind):
    bundle = make.bundle(*make.needed(), WOUND, kind=kind)
    for entry in bundle["entry"]:
        entry["request"] = {"method": "DELETE", "url": "Patient/p1"}
    assert examine_request(make.body_of(make.parameters(bundle))).record is not None


@pytest.mark.parametrize(("index", "resource", "datum"), [
    (0, None, "patient"),
    (0, make.patient(birth_date=None), "birth-date"),
    (1, None, "injury-day"),
    (1, make.burn(onset=None), "injury-day"),
    (2, None, "weight"),
    (3, None, "body-size"),
    (4, None, "haemoglobin"),
])
def test_what_is_absent_is_missing_and_no_fault(index, resource, datum):
    result = read_instead(index, resource)
    assert result.record is None and datum in missing(result)
    assert not result.faults or index == 0  # without a Patient every subject leads nowhere


@pytest.mark.parametrize(("resource", "datum"), [
    (make.burn_wound(depth=None), "burn-depth"),
    (make.burn_wound("left thigh"), "surface"),
    (WOUND | {"valueQuantity": None}, "extent"),
    (WOUND | {"effectiveDateTime": None}, "effective"),
    (WOUND | {"bodySite": None}, "body-site"),
    (make.bed_state("left thigh", "ready"), "surface"),
    (make.donor_site("left thigh", "healed"), "surface"),
])
def test_a_resource_without_a_needed_part_is_missing_it(resource, datum):
    resource = {name: value for name, value in resource.items() if value is not None}
    result = read(resource)
    assert errors(result) == []
    places = [one.expression for one in result.missing if one.datum == datum]
    assert len(places) == 1 and places[0].startswith("Parameters.parameter[0].resource.entry[5].resource.")


def test_no_wound_at_all_is_missing():
    assert missing(read()) == ["wound"]


def test_a_data_absent_reason_is_an_absence():
    unknown = {"coding": [{"system": "http://terminology.hl7.org/CodeSystem/data-absent-reason", "code": "unknown"}]}
    weight = make.measured("weight", 70) | {"dataAbsentReason": unknown}
    assert errors(read_instead(2, weight)) == ["value-and-absent-reason"]
    del weight["valueQuantity"]
    assert missing(read_instead(2, weight)) == ["weight"]


def test_body_surface_stands_in_for_height():
    result = read_instead(3, make.measured("body-surface", "1.84"))
    assert str(result.record.patient.body_surface_m2.value) == "1.84"


def test_a_burn_of_nothing_is_a_record_without_extents():
    result = read(make.burn_wound(percent=0))
    assert result.record.extents == () and result.missing == ()


@pytest.mark.parametrize(("change", "reason"), [
    ({"status": "preliminary"}, "status-not-final"),
    ({"status": "cancelled"}, "status-not-final"),
    ({"status": "entered-in-error"}, "entered-in-error"),
    ({"code": {"coding": [{"system": make.LOINC, "code": "8867-4"}]}}, "observation-not-used"),
    ({"code": {"text": "seen"}}, "observation-not-used"),
    ({"identifier": [{"system": f"{make.CANONICAL}/identifier", "value": "x"}]}, "own-answer"),
    ({"device": {"identifier": {"system": f"{make.CANONICAL}/identifier", "value": "graftstage"}}}, "own-answer"),
    ({"performer": [{"identifier": {"system": f"{make.CANONICAL}/identifier", "value": "graftstage"}}]},
     "own-answer"),
])
def test_what_does_not_count_is_set_aside_and_named(change, reason):
    result = read(WOUND, make.burn_wound("face", 3) | change)
    assert set_aside(result) == [reason] and len(result.record.extents) == 1


def test_a_modifier_of_what_does_not_count_is_no_matter():
    extension = {"modifierExtension": [{"url": "https://record.example/not", "valueBoolean": True}]}
    result = read(WOUND, make.burn_wound("face", 3) | {"status": "preliminary"} | extension)
    assert errors(result) == []


@pytest.mark.parametrize(("resource", "reason"), [
    ({"resourceType": "Claim"}, "resource-not-used"),
    ({"resourceType": "Encounter", "id": "e"}, "resource-not-used"),
    ({"resourceType": "BananaType"}, "resource-unknown-type"),
    ({"resourceType": "Quantity"}, "resource-unknown-type"),
    ({"resourceType": "ServiceRequest"}, "resource-not-used"),
])
def test_other_types_are_set_aside(resource, reason):
    assert set_aside(read(WOUND, resource)) == [reason]


def test_the_newest_value_counts_whatever_the_order():
    old = make.burn_wound(percent="2.5", seen="2026-03-02")
    for resources in ((old, WOUND), (WOUND, old)):
        result = read(*resources)
        assert [str(e.percent_tbsa) for e in result.record.extents] == ["4.5"]
        assert set_aside(result) == ["superseded"]


def test_the_later_instant_of_a_day_counts():
    early = make.burn_wound(percent="2.5", seen="2026-03-03T08:00:00Z")
    late = make.burn_wound(percent="3.5", seen="2026-03-03T11:00:00+02:00")
    assert [str(e.percent_tbsa) for e in read(late, early).record.extents] == ["3.5"]


def test_of_two_at_one_time_the_later_issued_counts():
    original = WOUND | {"issued": "2026-03-03T08:00:00Z"}
    amended = make.burn_wound(percent="3.5") | {"status": "amended", "issued": "2026-03-03T09:00:00+00:30"}
    assert [str(e.percent_tbsa) for e in read(amended, original).record.extents] == ["3.5"]


def test_the_same_said_twice_counts_once():
    result = read(WOUND, WOUND)
    assert len(result.record.extents) == 1 and set_aside(result) == ["duplicate-resource"]


def test_depths_of_one_place_stand_side_by_side():
    result = read(make.burn_wound(percent=2), make.burn_wound(percent=2, depth="deep-partial"))
    assert len(result.record.extents) == 2


def test_percent_of_the_region_is_kept_as_such():
    result = read(make.burn_wound(percent=60, code="burn-extent-of-region"))
    assert result.record.extents[0].percent_of_region == 60 and result.record.extents[0].percent_tbsa is None


def test_one_place_in_two_ways_is_a_contradiction():
    result = read(make.burn_wound(percent=2), make.burn_wound(percent=40, code="burn-extent-of-region"))
    assert errors(result) == ["extent-two-ways"]


def test_a_total_within_ten_points_is_read():
    total = make.stated("total-burn-extent", valueQuantity=make.quantity("13.9", "%"))
    assert read(WOUND, total).record.total_percent_tbsa == Decimal("13.9")


def test_a_year_of_birth_is_enough():
    result = read_instead(0, make.patient(birth_date="1986"))
    assert result.record.patient.birth_date.month is None


def test_the_sexes_of_fhir_are_read():
    for text in ("male", "female", "other", "unknown"):
        assert read_instead(0, make.patient(gender=text)).record.patient.sex is Sex(text)


def test_statements_about_the_patient():
    patient = read(
        WOUND,
        make.stated("treatment-intent", valueCodeableConcept=make.local("comfort")),
        make.stated("fit-for-theatre-from", valueDateTime="2026-03-09"),
        make.stated("off-loading-available", valueBoolean=False),
        make.inhalation_injury(),
        make.allergy("sulfonamide-allergy"),
    ).record.patient
    assert patient.treatment_intent is TreatmentIntent.COMFORT
    assert (patient.fit_for_theatre_from, patient.off_loading_available) == (date(2026, 3, 9), False)
    assert (patient.inhalation_injury, patient.sulfonamide_allergy) == (True, AllergyAnswer.PRESENT)


def test_a_refuted_statement_is_a_no():
    refuted = {"verificationStatus": {"coding": [{
        "system": "http://terminology.hl7.org/CodeSystem/condition-ver-status", "code": "refuted"}]}}
    patient = read(
        WOUND, make.inhalation_injury(**refuted), make.allergy("sulfonamide-allergy", **refuted)).record.patient
    assert (patient.inhalation_injury, patient.sulfonamide_allergy) == (False, AllergyAnswer.ABSENT)


def test_no_known_allergy_is_a_no():
    assert read(WOUND, make.allergy()).record.patient.sulfonamide_allergy is AllergyAnswer.ABSENT


def test_weight_in_pounds_shows_both_values():
    weight = read_instead(2, make.measured("weight", 154, "[lb_av]")).record.patient.weight_kg
    assert (round(weight.value, 1), weight.as_sent) == (Decimal("69.9"), "154 [lb_av]")


def test_an_amputated_region_is_read_and_may_not_be_burned():
    stump = make.observation(
        "amputated", bodySite=make.local("lower-leg", "right"), valueBoolean=True, seen="2019-01-01")
    assert read(WOUND, stump).record.amputated == ((Region.LOWER_LEG, Side.RIGHT),)
    assert errors(read(make.burn_wound("right lower-leg front", 3), stump)) == ["amputated-burn"]


def test_a_bad_bed_without_surface_speaks_of_both():
    beds = read(WOUND, make.bed_state("left thigh", "infected")).record.beds
    assert [bed.place.key for bed in beds] == ["left-thigh-front", "left-thigh-back"]


def test_a_template_says_from_when_the_bed_is_ready():
    bed, = read(WOUND, make.bed_state("left thigh front", "under-template", ready_from="2026-03-24")).record.beds
    assert bed.ready_from == date(2026, 3, 24)


def test_a_coded_region_with_its_side_is_read_alike():
    site = {"coding": [{"system": "http://snomed.info/sct", "code": "61396006"}]}
    extent, = read(WOUND | {"bodySite": site}).record.extents
    assert extent.place.key == "left-thigh-front"


def test_a_display_that_differs_is_said():
    site = make.local("thigh", "left")
    site["coding"][0]["display"] = "Shoulder"
    assert notes(read(WOUND | {"bodySite": site})) == ["display-differs"]


def test_text_that_turns_its_direction_and_active_narrative_are_said():
    narrative = {"status": "generated", "div": "<div xmlns='http://www.w3.org/1999/xhtml'><script>1</script></div>"}
    result = read(WOUND | {"text": narrative, "note": [{"text": "left \u202e thgir"}]})
    assert sorted(notes(result)) == ["direction-override", "narrative-active"]


def test_a_coded_band_that_does_not_hold_the_burn_is_said():
    band = {"system": "http://hl7.org/fhir/sid/icd-10", "code": "T31.6"}
    condition = make.burn()
    condition["code"]["coding"].append(band)
    assert notes(read_instead(1, condition)) == ["burn-band-differs"]


def test_faults_come_all_at_once_in_the_order_of_the_request():
    resources = make.needed()
    resources[2] = make.measured("weight", -1)
    body = make.body_of(make.parameters(make.bundle(
        *resources, make.burn_wound(depth="none"), WOUND | {"bodySite": make.local("thigh")})))
    with pytest.raises(InvalidCase) as refused:
        read_request(body)
    assert [f.error_id for f in refused.value.faults] == ["value-range", "code-unknown", "side-missing"]


def test_the_order_of_entries_changes_nothing_but_the_keys():
    one = read(WOUND, make.burn_wound("face", 3))
    other = read(make.burn_wound("face", 3), WOUND)
    assert {(e.place.key, e.percent_tbsa) for e in one.record.extents} == {
        (e.place.key, e.percent_tbsa) for e in other.record.extents}
    assert one.record.patient == other.record.patient


def test_the_patient_key_is_opaque_and_stable():
    one, other = read(WOUND), read(make.burn_wound("face", 3))
    assert one.record.patient.key == other.record.patient.key
    assert "p1" not in one.record.patient.key


@pytest.mark.parametrize("code", ["albumin", "core-temperature", "body-surface"])
def test_an_old_value_that_is_not_needed_is_set_aside(code):
    old = make.measured(code, {"albumin": 3, "core-temperature": 37, "body-surface": "1.8"}[code], seen="2023-03-01")
    result = read(WOUND, old)
    assert set_aside(result) == ["value-too-old"]
    assert getattr(result.record.patient, {"albumin": "albumin_g_dl", "core-temperature": "core_temperature_celsius",
                                           "body-surface": "body_surface_m2"}[code]) is None


def test_a_sum_that_lacks_an_extent_is_not_held_against_the_total():
    total = make.stated("total-burn-extent", valueQuantity=make.quantity(20, "%"))
    result = read(WOUND, make.burn_wound("right thigh front", depth=None), total)
    assert missing(result) == ["burn-depth"]


@pytest.mark.parametrize("code", ["treatment-intent", "fit-for-theatre-from", "amputated"])
def test_a_statement_without_its_value_is_asked_for_it(code):
    site = {"bodySite": make.local("hand", "left")} if code == "amputated" else {}
    result = read(WOUND, make.stated(code, **site))
    assert missing(result) == ["value"]


def test_the_clock_is_taken_only_with_a_word():
    bundle = make.record(make.burn_wound())["parameter"][0]["resource"]
    assert "as-of-from-clock" in {note.error_id for note in examine_request(make.body_of(bundle)).notes}
    assert examine_request(make.body_of(bundle), as_of=datetime(2026, 3, 4, tzinfo=UTC)).notes == ()
