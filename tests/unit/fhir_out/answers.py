"""Answers made by hand: every kind of resource, with numbers that are easy to recognise again."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

from service.domain.answer import PlanAnswer, Versions
from service.domain.body_region import Place, Position, Region, Side, Surface
from service.domain.burn_wound import BurnExtent, BurnWound, Depth
from service.domain.case import BurnRecord, GraftingCase, PlanRequest, SessionLimits, SkinLimitAge
from service.domain.donor_site import DonorParcel, DonorSite, Harvest
from service.domain.dressing import CareEvent, EventKind, Quantity
from service.domain.finding import Finding, Severity
from service.domain.graft import GraftMethod, SkinClass, Thickness
from service.domain.method_change import MethodChange, WoundChange
from service.domain.patient import AllergyAnswer, BirthDate, Measured, Patient, Sex
from service.domain.plan import (
    Closure,
    GraftPlan,
    LedgerEntry,
    PlanOutcome,
    Reason,
    SettledPlan,
    SkinPrice,
    StillOpen,
    UnreservedLoss,
    Variant,
)
from service.domain.session import CoverKind, CoverPlacement, Excision, Placement, Session
from service.domain.theatre_list import ListStep, TheatreList
from service.fhir.read_result import ReadResult, SetAside, SourceRef
from service.settings import Settings
from service.wording.catalogue import load_table

BASE = "https://burns.example/fhir"
SETTINGS = Settings(canonical_base=BASE)
SERVER = "https://record.example/r4"
AS_OF = datetime(2026, 3, 2, 8, 30, tzinfo=UTC)
D = Decimal

TRUNK = Place(Region.ANTERIOR_TRUNK, None, Surface.FRONT)
THIGH = Place(Region.THIGH, Side.LEFT, Surface.FRONT)
DONOR = Place(Region.THIGH, Side.RIGHT, Surface.FRONT)
SCALP = Place(Region.SCALP, None, Surface.BACK)
TRUNK_ID, THIGH_ID = "anterior-trunk:full-thickness", "left-thigh-front:deep-partial"

SOURCE_TYPES = ("Patient", "Condition", *("Observation",) * 4, "Procedure", "Condition")


UNDERSTOOD_AS = ("", "burn", "burn-extent", "weight", "height", "burn-extent", "graft-placement", "inhalation-injury")


def source(index: int, resource_type: str, *, restful: bool = True) -> SourceRef:
    url = f"{SERVER}/{resource_type}/r{index}" if restful else f"urn:uuid:00000000-0000-4000-8000-{index:012d}"
    identifier = {"system": "urn:example:mrn", "value": f"x{index}"} if index == 0 else None
    return SourceRef(resource_type, url, f"r{index}" if restful else None, identifier, resource_type)


def read_result(*, restful: bool = True, **changes) -> ReadResult:
    sources = {f"entry[{i}]": source(i, t, restful=restful) for i, t in enumerate(SOURCE_TYPES)}
    profiles = dict(zip(sources, UNDERSTOOD_AS, strict=True))
    understood = tuple((key, profile) for key, profile in profiles.items() if profile)
    result = ReadResult(
        record=case().record, request=case().request, sources=sources,
        set_aside=(SetAside("Bundle.entry[9].resource", "resource-not-used", "Encounter"),),
        missing=(), notes=(), faults=(), findings=(), understood=understood, input_sha256="a" * 64)
    return replace(result, **changes)


def patient() -> Patient:
    return Patient(
        key="p-1f/2 e", reference="entry[0]", birth_date=BirthDate(1980, 5, 1), sex=Sex.FEMALE,
        weight_kg=Measured(D("70.50"), date(2026, 3, 1), "entry[3]"),
        height_cm=Measured(D("170"), date(2026, 3, 1), "entry[4]"),
        body_surface_m2=None, haemoglobin_g_dl=None, core_temperature_celsius=None, albumin_g_dl=None,
        injury=date(2026, 2, 28), inhalation_injury=None, treatment_intent=None, fit_for_theatre_from=None,
        off_loading_available=None, sulfonamide_allergy=AllergyAnswer.NOT_RECORDED)


def case(**request_changes) -> GraftingCase:
    extents = (
        BurnExtent(TRUNK, Depth.FULL_THICKNESS, D("12"), None, date(2026, 3, 1), "entry[2]"),
        BurnExtent(THIGH, Depth.DEEP_PARTIAL, D("4.5"), None, date(2026, 3, 1), "entry[5]"),
    )
    wounds = (
        BurnWound(TRUNK_ID, TRUNK, Depth.FULL_THICKNESS, False, D("2160.0"), sources=("entry[2]",)),
        BurnWound(THIGH_ID, THIGH, Depth.DEEP_PARTIAL, False, D("810.5"), sources=("entry[5]", "entry[6]")),
    )
    sites = (
        DonorSite("right-thigh-front", DONOR, D("900.0"), 3, (DonorParcel(D("900.0")),), ("entry[5]",)),
        DonorSite("scalp", SCALP, D("250.0"), 2, (
            DonorParcel(D("150.0")),
            DonorParcel(D("100.0"), 1, -5, healed_recorded=False, healed_day=4),
        )),
    )
    return GraftingCase(
        record=BurnRecord(patient(), extents, None),
        request=replace(PlanRequest(AS_OF, "Etc/UTC"), **request_changes),
        day_zero=date(2026, 3, 2), injury_day=-2, age_years=D("45.8"), age_band=SkinLimitAge.ADULT,
        body_surface_m2=D("1.80123"), body_surface_formula="a named formula", blood_volume_ml=D("4500"),
        burn_percent_tbsa=D("16.5"), graftable_percent_tbsa=D("16.5"), wounds=wounds, donor_sites=sites,
        limits=SessionLimits(D("3600"), D("3600"), D("2000"), 240, 2, 2), thick_skin_allowed=True,
        off_loading=False, first_session_day=1, horizon_day=90, weight_set="function")


THIN = SkinClass(Thickness.THIN, False)

SETTLED = SettledPlan(
    sessions=(
        Session(1, 1, (Position.SUPINE,), False, 150, 800, 3, ("session-area",)),
        Session(2, 20, (Position.SUPINE, Position.PRONE), False, 90, 300, 1),
        Session(3, 30, (Position.SUPINE,), True, 60, 100, 1),
    ),
    excisions=(Excision(1, TRUNK_ID, D("1500.0")), Excision(20, TRUNK_ID, D("600.0"))),
    harvests=(
        Harvest(1, "right-thigh-front", Thickness.THIN, D("850.3"), 1),
        Harvest(20, "right-thigh-front", Thickness.THIN, D("300.0"), 2),
        Harvest(30, "scalp", Thickness.THIN, D("60.0"), 1),
    ),
    placements=(
        Placement(1, TRUNK_ID, GraftMethod.MESHED_1_2, D("1500.0"), THIN, D("800.0")),
        Placement(20, TRUNK_ID, GraftMethod.ISLAND_1_4, D("600.0"), THIN, D("282.2"), plates=D(16)),
        Placement(30, TRUNK_ID, GraftMethod.MESHED_1_1, D("55.0"), THIN, D("55.0"), is_regraft=True),
    ),
    covers=(CoverPlacement(1, TRUNK_ID, CoverKind.TEMPORARY, D("10.0"), 15),),
    still_open=(StillOpen(TRUNK_ID, D("60.0")), StillOpen(THIGH_ID, D("810.5"))),
    unreserved=(UnreservedLoss("left-thigh", D("12.5")),),
)

GRAFT = f"{TRUNK_ID}:graft:1"
EVENTS = (
    CareEvent(
        EventKind.HARVEST_SKIN, "right-thigh-front:harvest:1", 1, 1, 1, 1, 1, "right thigh, front",
        quantities=(
            Quantity("harvest-area", D("850.3"), D("700.0"), D("990.10"), "cm2",
                     ("achieved-expansion-ratio/meshed-1-2", "handling-loss/any")),
            Quantity("plates", D("16"), None, None, "1", ("plate-side-mm/any", "handling-loss/any")),
        ),
        preconditions=("fitness-not-recorded",),
        values=(("area", "851 cm²"), ("thickness", "thin"), ("harvest_number", "1"), ("interval", "700-991 cm²"))),
    CareEvent(
        EventKind.PLACE_GRAFT, GRAFT, 1, 1, 1, 1, 1, "front of trunk", priority="urgent",
        values=(("area", "1,500 cm²"), ("method", "meshed 1:2"), ("skin", "800 cm²"), ("plates", ""))),
    *(
        CareEvent(
            EventKind.CHANGE_OUTER_DRESSING, GRAFT, n, day, day - 1, day + 1, None, "front of trunk",
            series=f"{GRAFT}:outer-dressing",
            values=(("graft", "meshed 1:2"), ("day_after", str(day - 1)), ("detail", "")))
        for n, day in enumerate((3, 5, 14, 15, 17), start=1)
    ),
    CareEvent(
        EventKind.INSPECT_GRAFT, GRAFT, 1, 6, 5, 7, None, "front of trunk", series=f"{GRAFT}:inspect-graft",
        values=(("graft", "meshed 1:2"), ("contingent", ""))),
    CareEvent(EventKind.REVIEW_PLAN, "patient", 1, 7, 7, 8, None, "front of trunk"),
)

THEATRE_LISTS = (
    TheatreList(
        session=1,
        quantities=(
            Quantity("blood-loss", D("650"), D("500"), D("800"), "mL", ("blood-loss-per-cm2/excision-adult",)),
        ),
        carriers=(("1:4", 16),),
        spare_carriers=2,
        steps=(ListStep("induction", (), D("12")), ListStep("dress", ())),
        preparation=()),
)

REASON = Reason(min(load_table("reasons")))
METHOD_CHANGES = (
    MethodChange(1, GraftMethod.MESHED_1_2, GraftMethod.MESHED_1_1_5, (
        WoundChange("anterior-trunk", D("101.2"), D("-21.4")), WoundChange("left-thigh:joint", D("12.0"), D("-1.1")))),
    MethodChange(2, GraftMethod.ISLAND_1_4, GraftMethod.ISLAND_1_6, (
        WoundChange("anterior-trunk", D("-94.7"), D("33.0")),)),
)
SKIN_PRICES = (SkinPrice("scalp", 1, D("4.5")), SkinPrice("right-thigh-front", 1, D("6.2")))

FINDINGS = (
    Finding("still-open", Severity.HIGH, place=THIGH_ID, sources=("entry[5]",)),
    Finding("session-over-soft-area", Severity.MODERATE, (("percent_tbsa", "21"),), session=1),
    Finding("session-over-soft-area", Severity.MODERATE, (("percent_tbsa", "22"),), session=2),
    Finding("allergy-not-recorded", Severity.MODERATE),
    Finding("scalp-share-low-end", Severity.LOW, place="scalp"),
)


def ledger() -> tuple[LedgerEntry, ...]:
    """Two sites over four days; the thigh changes once."""
    harvested = (D("49.7"), D("850.3"))
    thigh = [(0, D("900.0"), D("0")), *((day, *harvested) for day in (1, 2, 3))]
    return tuple(
        entry
        for day, usable, healing in thigh
        for entry in (
            LedgerEntry(day, "right-thigh-front", usable, healing, D("0")),
            LedgerEntry(day, "scalp", D("150.0"), D("100.0"), D("0")),
        )
    )


def plan(**changes) -> GraftPlan:
    made = GraftPlan(
        PlanOutcome.RULE_OF_THUMB, SETTLED, objective_days=D("321.5"), ledger=ledger(),
        closures=(Closure(TRUNK_ID, 32, 28, 40), Closure(THIGH_ID, None, None, None)),
        reasons=(REASON,), method_changes=METHOD_CHANGES, skin_prices=SKIN_PRICES,
        variants=(Variant("depth-indeterminate", "needs-graft", replace(SETTLED, still_open=()), 60),))
    return replace(made, **changes)


def answer(made: GraftPlan | None = None, *, events=EVENTS, findings=FINDINGS, **request_changes) -> PlanAnswer:
    versions = Versions("0.1.0", "2026.1", "b" * 64, "c" * 64, "a" * 64, 7)
    lists = THEATRE_LISTS if made is None else ()
    return PlanAnswer(case(**request_changes), made or plan(), events, lists, findings, versions)


def no_plan(reason: str) -> PlanAnswer:
    findings = (Finding(reason, Severity.HIGH), *FINDINGS)
    return answer(GraftPlan(PlanOutcome.NO_PLAN, SettledPlan(), reason_no_plan=reason), events=(), findings=findings)
