"""The burn record from what counts of a Bundle."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from service.domain.body_region import Place
from service.domain.burn_wound import BurnExtent
from service.domain.case import BurnRecord
from service.domain.patient import Patient
from service.fhir.check_donor_dates import check_donor_dates
from service.fhir.check_extents import chart_shares, check_extents, check_sum, check_total
from service.fhir.check_history import (
    check_amputated,
    check_areas,
    check_graft_places,
    check_harvest_places,
    largest_areas_cm2,
)
from service.fhir.read_context import ReadContext
from service.fhir.read_history import read_history
from service.fhir.read_patient import (
    Person,
    read_allergy,
    read_inhalation,
    read_injury,
    read_intent,
    read_measured,
    read_stated,
)
from service.fhir.read_statements import Statement
from service.fhir.read_wounds import read_amputated, read_beds, read_extents, read_open_wounds, read_total
from service.fhir.select_entries import Selected

_NEED_VALUE = ("treatment-intent", "fit-for-theatre-from", "amputated")
_OF_AN_EXTENT = ("extent", "burn-depth", "surface", "effective", "body-site")


@dataclass(frozen=True)
class Selection:
    """What counts, sorted by resource type. ``statements`` are the latest of each kind."""

    statements: tuple[Statement, ...]
    procedures: tuple[Selected, ...]
    conditions: tuple[Selected, ...]
    allergies: tuple[Selected, ...]


def _injury_day(injury: date | datetime | None) -> date | None:
    return injury.date() if isinstance(injury, datetime) else injury


def _check_against_injury(statements: tuple[Statement, ...], injury: date | None, context: ReadContext) -> None:
    """Wounds and donor sites were not seen before the injury."""
    for statement in statements:
        if injury and statement.site and statement.profile.code != "amputated" and statement.moment.day < injury:
            context.log.fault("before-injury", f"{statement.expression}.effective")


def _miss_values(statements: tuple[Statement, ...], context: ReadContext) -> None:
    """A statement that may hold the surgeon back does not become silence by losing its value."""
    for statement in statements:
        if statement.profile.code in _NEED_VALUE and statement.value is None:
            context.log.miss("value", f"{statement.expression}.value")


def _read_patient(
    person: Person | None, selection: Selection, injury: date | datetime | None, context: ReadContext
) -> Patient | None:
    """The patient, once everything that planning needs of them is there."""
    statements = selection.statements
    birth = person.birth_date if person else None

    def measured(code: str):
        return read_measured(code, statements, birth, context)

    weight, height, surface = measured("weight"), measured("height"), measured("body-surface")
    haemoglobin, temperature, albumin = (
        measured("haemoglobin"), measured("core-temperature"), measured("albumin"))
    if weight is None:
        context.log.miss("weight")
    if height is None and surface is None:
        context.log.miss("body-size")
    if haemoglobin is None:
        context.log.miss("haemoglobin")
    if person is None or birth is None or weight is None or injury is None:
        return None
    fit_from = read_stated("fit-for-theatre-from", statements)
    off_loading = read_stated("off-loading-available", statements)
    return Patient(
        key=person.key,
        reference=person.entry.key,
        birth_date=birth,
        sex=person.sex,
        weight_kg=weight,
        height_cm=height,
        body_surface_m2=surface,
        haemoglobin_g_dl=haemoglobin,
        core_temperature_celsius=temperature,
        albumin_g_dl=albumin,
        injury=injury,
        inhalation_injury=read_inhalation(selection.conditions),
        treatment_intent=read_intent(statements),
        fit_for_theatre_from=fit_from.value if fit_from else None,
        off_loading_available=off_loading.value if off_loading else None,
        sulfonamide_allergy=read_allergy(selection.allergies),
    )


def _expressions_of(selection: Selection) -> dict[str, str]:
    """FHIRPath by record key, of everything that an area or an extent may come from."""
    entries = [s.entry for s in selection.statements] + [s.entry for s in selection.procedures]
    return {entry.key: entry.expression for entry in entries}


def _check_burn_size(
    extents: tuple[BurnExtent, ...], total: Decimal | None, shares: dict[Place, Decimal] | None,
    selection: Selection, context: ReadContext,
) -> None:
    expressions = _expressions_of(selection)
    check_extents(extents, shares, expressions, context)
    if any(missing.datum in _OF_AN_EXTENT for missing in context.log.missing):
        return  # a sum that lacks one of its extents says nothing
    counted = check_sum(extents, shares, expressions, context)
    stated = [s.expression for s in selection.statements if s.profile.code == "total-burn-extent"]
    bands = [one.band for one in selection.conditions if one.band is not None]
    place = f"{stated[0]}.value" if stated else ""
    check_total(counted, total, bands[0] if bands else None, place, context)


def read_record(
    person: Person | None, selection: Selection, context: ReadContext
) -> BurnRecord | None:
    statements = selection.statements
    birth = person.birth_date if person else None
    injury = read_injury(selection.conditions, birth, context)
    _miss_values(statements, context)
    _check_against_injury(statements, _injury_day(injury), context)
    patient = _read_patient(person, selection, injury, context)
    extents = read_extents(statements, context)
    open_wounds = read_open_wounds(statements, context)
    wound_codes = ("burn-extent", "burn-extent-of-region", "open-wound")
    if not any(s.profile.code in wound_codes for s in statements):
        context.log.miss("wound")
    total = read_total(statements, context)
    shares = chart_shares(birth, context)
    _check_burn_size(extents, total, shares, selection, context)
    history = read_history(selection.procedures, statements, _injury_day(injury), context)
    if patient is None:
        return None
    record = BurnRecord(
        patient=patient,
        extents=extents,
        total_percent_tbsa=total,
        open_wounds=open_wounds,
        beds=read_beds(statements, context),
        excisions=history.excisions,
        harvests=history.harvests,
        placements=history.placements,
        covers=history.covers,
        carrier_removals=history.carrier_removals,
        donor_states=history.donor_states,
        amputated=read_amputated(statements),
    )
    _check_record(record, shares, selection, context)
    return record


def _check_record(
    record: BurnRecord, shares: dict[Place, Decimal], selection: Selection, context: ReadContext
) -> None:
    """What can only be checked once everything is read; a missing size leaves areas unchecked."""
    expressions = _expressions_of(selection)
    check_amputated(record, expressions, context)
    check_harvest_places(record, shares, expressions, context)
    check_graft_places(record, expressions, context)
    if record.patient.height_cm or record.patient.body_surface_m2:
        areas_cm2 = largest_areas_cm2(record, shares, context)
        check_areas(record, areas_cm2, expressions, context)
        check_donor_dates(record, areas_cm2, expressions, context)
