"""The fluid cross-check as one Observation: a band with its label, never an order."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from service.domain.fluids import FluidEstimate, FluidLine
from service.fhir.identity import Identity
from service.fhir.write_evidence import cite_evidence
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame
from service.fhir.write_quantity import write_quantity, write_range
from service.wording.fluid_text import LABEL, word_fluid_notes

FLUID_ESTIMATE = "computed-fluid-estimate"
RATE, VOLUME, TIME = "mL/h", "mL", "h"


def write_fluid_estimate(frame: AnswerFrame) -> Iterator[tuple[Identity, dict]]:
    """One Observation with a component for each number; nothing when there is no estimate.

    Rates are ranges over the recommended figures; the observed figure is a volume of its own.
    """
    estimate = frame.answer.fluid_estimate
    if estimate is None:
        return
    identity = frame.identify(WHOLE_PATIENT, FLUID_ESTIMATE)
    patient = frame.case.record.patient
    sources = (patient.weight_kg.source, *(extent.source for extent in frame.case.record.extents))
    observation = {
        "resourceType": "Observation",
        "identifier": [identity.identifier],
        "status": "preliminary",
        "code": frame.concept(f"computed/{FLUID_ESTIMATE}", f"Fluid estimate. {LABEL}"),
        "subject": frame.patient,
        "effectiveDateTime": frame.as_of,
        "issued": frame.as_of,
        "note": [{"text": text} for text in (LABEL, *word_fluid_notes(estimate), *_cite(estimate))],
        "method": {"text": "Volume of the day from the time of injury = figure × weight × burn without erythema; "
                           "half of it in the hours of the first half"},
        "device": frame.device,
        "component": [_write_component(frame, *component) for component in _components(estimate)],
    }
    derived_from = frame.refer_all(sources, "Observation")
    yield identity, {**observation, "derivedFrom": derived_from} if derived_from else observation


def _cite(estimate: FluidEstimate) -> list[str]:
    return [f"Source: {cite_evidence(row_id)}" for row_id in estimate.sources]


def _write_component(frame: AnswerFrame, code: str, title: str, value: dict) -> dict:
    kind = "valueRange" if "low" in value else "valueQuantity"
    return {"code": frame.concept(f"fluid/{code}", title), kind: value}


def _components(estimate: FluidEstimate) -> Iterator[tuple[str, str, dict]]:
    yield "fluid-hours-since-injury", "Hours since the injury", write_quantity(estimate.since_injury_hours, TIME)
    for line in estimate.lines:
        title = f"Volume of the first day at {line.ml_per_kg_percent:f} mL/kg/%"
        yield f"fluid-volume-{line.figure}", title, write_quantity(line.day_volume_ml, VOLUME)
    until = f"until hour {estimate.first_half_hours:f}"
    yield from _write_rates(estimate, "keeping-pace", f"without catching up, {until}", "keeping_pace")
    yield from _write_rates(estimate, "catching-up", f"catching up if nothing was given, {until}", "catching_up")
    yield "fluid-urine-target", "Urine output to titrate to", write_range(
        estimate.urine_low_ml_per_hour, estimate.urine_high_ml_per_hour, RATE)
    yield "fluid-review-volume", "Volume of the day from which to look for over-resuscitation", write_quantity(
        estimate.review_volume_ml, VOLUME)
    if estimate.maintenance_ml_per_hour is not None:
        yield "fluid-maintenance", "Maintenance of a child, apart", write_quantity(
            estimate.maintenance_ml_per_hour, RATE)
    if estimate.rule_of_ten_ml_per_hour is not None:
        yield "fluid-rule-of-ten", "First rate by the rule of ten", write_quantity(
            estimate.rule_of_ten_ml_per_hour, RATE)


def _write_rates(estimate: FluidEstimate, code: str, words: str, course: str) -> Iterator[tuple[str, str, dict]]:
    """Rate in the first hours, unless they are over, and after them: lowest to highest recommended figure."""
    first = [getattr(line, course).first_ml_per_hour for line in _recommended(estimate)]
    then = [getattr(line, course).then_ml_per_hour for line in _recommended(estimate)]
    if None not in first:
        yield f"fluid-rate-{code}", f"Rate {words}", _write_band(first)
    yield f"fluid-rate-{code}-then", f"Rate after that, {words.split(',')[0]}", _write_band(then)


def _recommended(estimate: FluidEstimate) -> list[FluidLine]:
    return [line for line in estimate.lines if line.figure != "observed-mean"]


def _write_band(rates: list[Decimal]) -> dict:
    return write_range(min(rates), max(rates), RATE)
