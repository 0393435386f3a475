"""The patient: who it is, how old, how large, since when burned."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from service.assessment.age import possible_ages
from service.domain.patient import AllergyAnswer, BirthDate, Measured, Sex, TreatmentIntent
from service.fhir.moments import read_birth_date, read_choice
from service.fhir.read_context import ReadContext
from service.fhir.read_statements import Statement
from service.fhir.references import Entry, identifiers_of
from service.fhir.select_entries import Selected, is_refuted
from service.fhir.tables import read_table

OLDEST_YEARS = 125
_NEEDED_MEASUREMENTS = ("weight", "height", "haemoglobin")


@dataclass(frozen=True)
class Person:
    """What the Patient resource says. ``key`` is opaque and stable."""

    entry: Entry
    key: str
    birth_date: BirthDate | None
    sex: Sex


def find_patient(entries: tuple[Entry, ...], context: ReadContext) -> Entry | None:
    """The one Patient of the request; the same one sent twice counts once."""
    patients = [entry for entry in entries if entry.type == "Patient"]
    if not patients:
        context.log.miss("patient")
        return None
    for other in patients[1:]:
        if other.resource == patients[0].resource:
            context.log.put_aside("duplicate-resource", other.expression, "Patient")
        else:
            context.log.fault("patient-twice", other.expression)
    return patients[0]


def _opaque_key(entry: Entry) -> str:
    """The same patient gets the same key as long as identifier or address stay the same."""
    named = [f"{i.get('system', '')}|{i['value']}" for i in identifiers_of(entry.resource) if i.get("value")]
    name = min(named) if named else entry.full_url or str(entry.resource.get("id", ""))
    return hashlib.sha256(name.encode("utf-8", "replace")).hexdigest()[:20]


def read_person(entry: Entry, context: ReadContext) -> Person:
    resource, place = entry.resource, entry.expression
    if resource.get("deceasedBoolean") or "deceasedDateTime" in resource:
        context.log.fault("patient-deceased", f"{place}.deceased")
    birth = None
    if "birthDate" in resource:
        birth = read_birth_date(resource["birthDate"], f"{place}.birthDate", context.log)
        if birth and birth.earliest() > context.today:
            context.log.fault("date-in-future", f"{place}.birthDate")
            birth = None
        elif birth and context.today.year - birth.year > OLDEST_YEARS:
            context.log.fault("age-implausible", f"{place}.birthDate")
            birth = None
    else:
        context.log.miss("birth-date", f"{place}.birthDate")
    return Person(entry, _opaque_key(entry), birth, Sex(resource.get("gender", "unknown")))


def _contains_somebody_else(holder: Entry, reference: dict, patient: Entry) -> bool:
    """Whether the reference leads to a contained Patient that shares no identifier with the one of the Bundle."""
    local_id = str(reference.get("reference", "")).removeprefix("#")
    contained = [one for one in holder.resource.get("contained", ()) if one.get("id") == local_id]
    own = identifiers_of(patient.resource)
    return any(not any(i in own for i in identifiers_of(one)) for one in contained)


def check_subject(selected: Selected, patient: Entry, context: ReadContext) -> None:
    """Every resource that counts is about the one patient."""
    name = "patient" if selected.entry.type == "AllergyIntolerance" else "subject"
    place = f"{selected.entry.expression}.{name}"
    reference = selected.entry.resource.get(name)
    if reference is None:
        context.log.fault("subject-required", place)
        return
    if _contains_somebody_else(selected.entry, reference, patient):
        context.log.fault("subject-other", place)
        return
    before = len(context.log.faults)
    target = context.references.resolve(selected.entry, reference, place, context.log)
    if len(context.log.faults) > before and context.log.faults[-1].error_id == "reference-not-found":
        del context.log.faults[before:]
        context.log.fault("subject-other", place)
    elif target and target.resource != patient.resource:
        context.log.fault("subject-other", place)


def read_injury(
    conditions: tuple[Selected, ...], birth: BirthDate | None, context: ReadContext
) -> date | datetime | None:
    """Day of the injury, or the instant when the hour is known."""
    burns = []
    for condition in conditions:
        if condition.profile.code != "burn":
            continue
        if is_refuted(condition.entry.resource):
            context.log.put_aside("condition-refuted", condition.entry.expression, "Condition")
        else:
            burns.append(condition)
    onsets = []
    for burn in burns:
        place = burn.entry.expression
        onset = read_choice(burn.entry.resource, "onset", place, context.zone, context.log)
        if onset is None:
            continue
        if context.is_future(onset):
            context.log.fault("date-in-future", f"{place}.onset")
        elif birth and birth.earliest() > onset.day:
            context.log.fault("birth-after-injury", f"{place}.onset")
        else:
            onsets.append((onset, place))
    if not onsets:
        place = f"{burns[0].entry.expression}.onset" if burns else ""
        context.log.miss("injury-day", place)
        return None
    if len({onset.day for onset, _ in onsets}) > 1:
        for _, place in onsets:
            context.log.fault("onset-twice", f"{place}.onset")
    instants = [onset.instant for onset, _ in onsets if onset.instant]
    return min(instants) if instants else onsets[0][0].day


def read_inhalation(conditions: tuple[Selected, ...]) -> bool | None:
    found = [s for s in conditions if s.profile.code == "inhalation-injury"]
    return any(not is_refuted(s.entry.resource) for s in found) if found else None


def read_allergy(allergies: tuple[Selected, ...]) -> AllergyAnswer:
    """Sulfonamide allergy as recorded; not recorded is never taken for no."""
    about = [s for s in allergies if s.profile.code == "sulfonamide-allergy"]
    if any(not is_refuted(s.entry.resource) for s in about):
        return AllergyAnswer.PRESENT
    stated_none = any(
        s.profile.code == "no-known-allergy" and not is_refuted(s.entry.resource) for s in allergies)
    return AllergyAnswer.ABSENT if about or stated_none else AllergyAnswer.NOT_RECORDED


def _check_plausible(
    statement: Statement, value: Decimal, birth: BirthDate | None, context: ReadContext
) -> None:
    """Refuse a weight or height that no patient of this age has; an imprecise age gets the wider band."""
    if birth is None:
        return
    ages = possible_ages(birth, statement.moment.day)
    bands = [
        row for row in read_table("plausible_by_age")
        if row["profile"] == statement.profile.code
        and Decimal(row["from_years"]) <= ages[-1] and ages[0] < Decimal(row["to_years"])
    ]
    if bands and not any(Decimal(row["low"]) <= value <= Decimal(row["high"]) for row in bands):
        context.log.fault("value-implausible-for-age", f"{statement.expression}.value")


def read_measured(
    code: str, statements: tuple[Statement, ...], birth: BirthDate | None, context: ReadContext
) -> Measured | None:
    """The measurement that counts; ``None`` when there is none or it is without a value.

    An old value of something that is needed is refused; of anything else it is set aside.
    """
    found = next((s for s in statements if s.profile.code == code and s.value is not None), None)
    if found is None:
        return None
    oldest = found.profile.oldest_days
    if oldest is not None and (context.today - found.moment.day).days > oldest:
        if code not in _NEEDED_MEASUREMENTS:
            context.log.put_aside("value-too-old", found.expression, "Observation")
            return None
        context.log.fault("observation-stale", f"{found.expression}.effective", cap=oldest)
    _check_plausible(found, found.value, birth, context)
    return Measured(found.value, found.moment.day, found.key, found.as_sent)


def read_stated(code: str, statements: tuple[Statement, ...]) -> Statement | None:
    """A statement about the whole patient, if its value is there."""
    return next((s for s in statements if s.profile.code == code and s.value is not None), None)


def read_intent(statements: tuple[Statement, ...]) -> TreatmentIntent | None:
    found = read_stated("treatment-intent", statements)
    return TreatmentIntent(found.value) if found else None
