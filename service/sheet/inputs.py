"""What a person may change before planning: the present values, with the names of their fields."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from service.domain.body_region import REGIONS, Place, all_places
from service.domain.case import Act, BurnRecord, PlanRequest
from service.domain.donor_site import DonorState
from service.domain.graft import GraftMethod
from service.wording.asked_for import word_decision
from service.wording.languages import N_, Words
from service.wording.methods import method_in_words
from service.wording.places import place_in_words, surface_in_words

#: Field names begin with these; what follows is a record key or a place.
EXTENT, DONOR, METHOD = "extent:", "donor:", "method:"
#: Stands in the form beside the boxes of the methods: a box that is not ticked sends nothing.
METHODS_SHOWN = "methods-shown"
WEIGHT, THEATRE_DAYS = "weight", "theatre-days"
#: Parameters of one number each, with the label of the field and the unit that is printed beside it.
NUMBERS = (
    ("cover-stock", N_("Temporary cover in stock"), "cm²"),
    ("transfusion-units", N_("Red-cell units available"), ""),
    ("session-area-limit", N_("Largest area in a session"), "%TBSA"),
    ("session-minutes-limit", N_("Longest surgery in a session"), "min"))
NOTHING = "–"


@dataclass(frozen=True)
class NumberField:
    """A number that can be changed; ``value`` is empty when it is not stated."""

    name: str
    label: str
    value: str
    unit: str


@dataclass(frozen=True)
class ChoiceField:
    """A choice of one; the first option leaves things as recorded."""

    name: str
    label: str
    value: str
    options: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class CheckField:
    """One of several that may be at hand."""

    name: str
    label: str
    is_checked: bool


@dataclass(frozen=True)
class Inputs:
    """Everything that can be changed, in the order of the page."""

    weight: NumberField
    extents: tuple[NumberField, ...]
    donors: tuple[ChoiceField, ...]
    numbers: tuple[NumberField, ...]
    theatre_days: str
    methods: tuple[CheckField, ...]
    decision: tuple[ChoiceField, ...]
    decided: tuple[str, ...]


def present_inputs(record: BurnRecord, request: PlanRequest, _: Words) -> Inputs:
    """The values of a request that was understood."""
    return Inputs(
        weight=NumberField(WEIGHT, _("Weight"), f"{record.patient.weight_kg.value:f}", "kg"),
        extents=tuple(_extents(record, _)),
        donors=tuple(_donors(record, _)),
        numbers=tuple(_numbers(request, _)),
        theatre_days="\n".join(day.day.isoformat() for day in request.theatre_days),
        methods=tuple(
            CheckField(f"{METHOD}{method}", method_in_words(method, _), method in request.methods_available)
            for method in GraftMethod),
        decision=tuple(_decision(record, _)),
        decided=tuple(
            word_decision(decision, _) for decision in request.fixed_decisions),
    )


def _extents(record: BurnRecord, _: Words) -> Iterator[NumberField]:
    for extent in record.extents:
        value, unit = (extent.percent_tbsa, "%TBSA") if extent.percent_tbsa is not None else (
            extent.percent_of_region, _("% of the region"))
        label = _.series((_(surface_in_words(extent.place)), _(extent.depth.replace("-", " "))))
        yield NumberField(f"{EXTENT}{extent.source}", label, f"{value:f}", unit)


def _donors(record: BurnRecord, _: Words) -> Iterator[ChoiceField]:
    """Every place that gives skin, with its recorded state."""
    recorded = {state.place: state.state for state in record.donor_states}
    options = (
        ("", _("as recorded, or unburned and free")), (str(DonorState.HEALED), _("healed")),
        (str(DonorState.HEALING), _("healing")), (str(DonorState.EXCLUDED), _("excluded")))
    for place in donor_choices():
        yield ChoiceField(f"{DONOR}{place.key}", _(surface_in_words(place)), str(recorded.get(place, "")), options)


def donor_choices() -> tuple[Place, ...]:
    return tuple(place for place in all_places() if REGIONS[place.region].gives_skin)


def _numbers(request: PlanRequest, _: Words) -> Iterator[NumberField]:
    stated: dict[str, Decimal | int | None] = {
        "cover-stock": request.cover_stock_cm2, "transfusion-units": request.transfusion_units,
        "session-area-limit": request.session_area_limit_percent_tbsa,
        "session-minutes-limit": request.session_minutes_limit,
    }
    for name, label, unit in NUMBERS:
        value = stated[name]
        yield NumberField(name, _(label), "" if value is None else f"{value}", unit)


def _decision(record: BurnRecord, _: Words) -> Iterator[ChoiceField]:
    """One more decision: what, where, and how; its date is a field of its own."""
    acts = {Act.EXCISE: _("excise"), Act.HARVEST: _("take skin from"), Act.PLACE: _("graft")}
    yield ChoiceField("decide-act", _("What"), "", (("", NOTHING), *((str(act), acts[act]) for act in Act)))
    keys = dict.fromkeys(place.region_key for place in all_places())
    yield ChoiceField("decide-place", _("Where"), "", (("", NOTHING), *((key, place_in_words(key, _)) for key in keys)))
    yield ChoiceField(
        "decide-method", _("How"), "", (("", NOTHING), *((str(m), method_in_words(m, _)) for m in GraftMethod)))
