"""The fluid cross-check in words: a band to compare with, and what to read it against."""

from __future__ import annotations

from service.domain.answer import PlanAnswer
from service.domain.fluids import FluidEstimate, FluidLine
from service.wording.rounding import TENTH, number_in_words, percent_tbsa
from service.wording.text_table import Column, heading, paragraph, table

LABEL = "Cross-check for clinician review, not an order: titrate to urine output."


def write_fluid_check(answer: PlanAnswer) -> list[str]:
    """The block of the text answer; no line when there is no estimate."""
    estimate = answer.fluid_estimate
    if estimate is None:
        return []
    lines = [*heading("Fluids in the first day"), *paragraph(LABEL), *paragraph(_basis(estimate))]
    lines += ["", *_table(estimate), ""]
    for note in word_fluid_notes(estimate):
        lines += paragraph(note, "  ", "  ")
    return lines


def _basis(estimate: FluidEstimate) -> str:
    return (
        f"{number_in_words(estimate.since_injury_hours, TENTH)} h after the injury, where the clock starts; "
        f"{number_in_words(estimate.weight_kg, TENTH)} kg; "
        f"{percent_tbsa(estimate.burn_percent_tbsa)} without erythema. "
        f"Volumes in mL over {estimate.whole_hours:f} h, rates in mL/h.")


def _table(estimate: FluidEstimate) -> list[str]:
    until = f"to hour {estimate.first_half_hours:f}"
    columns = [
        Column("mL/kg/%", 8, True), Column("Volume", 9, True),
        Column(f"Keeping pace {until}", 13, True), Column("then", 6, True),
        Column(f"Catching up {until}", 12, True), Column("then", 6, True), Column("", 10),
    ]
    return table(columns, [_row(line) for line in estimate.lines])


def _row(line: FluidLine) -> tuple[str, ...]:
    pace, catching = line.keeping_pace, line.catching_up
    rates = (pace.first_ml_per_hour, pace.then_ml_per_hour, catching.first_ml_per_hour, catching.then_ml_per_hour)
    marks = (("observed", line.figure == "observed-mean"), ("capped", line.is_catch_up_capped),
             ("review", line.is_over_review))
    return (
        f"{line.ml_per_kg_percent:f}", number_in_words(line.day_volume_ml),
        *("-" if rate is None else number_in_words(rate) for rate in rates),
        ", ".join(word for word, applies in marks if applies),
    )


def word_fluid_notes(estimate: FluidEstimate) -> tuple[str, ...]:
    """What has to be known to read the band, a sentence or two each."""
    figures = [f"{line.ml_per_kg_percent:f}" for line in estimate.lines if line.figure != "observed-mean"]
    observed = next(line for line in estimate.lines if line.figure == "observed-mean")
    notes = [
        f"{', '.join(figures)} mL/kg/% are recommended by different bodies, {observed.ml_per_kg_percent:f} was "
        "observed on average: a band, none of them a target. Erythema does not count.",
        "What has been given so far is not known here. Keeping pace leaves what was missed; catching up shows the "
        "rate if nothing was given yet. Sources disagree on which is right.",
        f"Urine output to titrate to: {_rate(estimate.urine_low_ml_per_hour)} to "
        f"{_rate(estimate.urine_high_ml_per_hour)}.",
        f"From {number_in_words(estimate.review_volume_ml)} mL in the day on "
        f"({estimate.review_ml_per_kg:f} mL/kg or {estimate.review_ml_per_kg_percent:f} mL/kg/%, whichever comes "
        f"first) look for over-resuscitation{_lines_over_review(estimate)}.",
    ]
    if any(line.is_catch_up_capped for line in estimate.lines):
        notes.append(
            f"Catching up is capped at {estimate.catch_up_cap_ratio:f} times the rate of an arrival on time, so it "
            "does not make up for all that was missed.")
    if estimate.maintenance_ml_per_hour is not None:
        notes.append(f"Maintenance of a child is apart and in none of these: "
                     f"{_rate(estimate.maintenance_ml_per_hour)}.")
    if estimate.rule_of_ten_ml_per_hour is not None:
        notes.append(f"First rate by the rule of ten: {_rate(estimate.rule_of_ten_ml_per_hour)}, burn size rounded "
                     "to the nearest ten.")
    if estimate.is_below_threshold:
        notes.append(_word_threshold(estimate))
    return tuple(notes)


def _rate(ml_per_hour) -> str:
    return f"{number_in_words(ml_per_hour)} mL/h"


def _lines_over_review(estimate: FluidEstimate) -> str:
    over = [f"{line.ml_per_kg_percent:f}" for line in estimate.lines if line.is_over_review]
    return f"; the figures {' and '.join(over)} lie above that" if len(over) > 1 else (
        f"; the figure {over[0]} lies above that" if over else "")


def _word_threshold(estimate: FluidEstimate) -> str:
    low, high = estimate.threshold_low_percent, estimate.threshold_high_percent
    if estimate.burn_percent_tbsa < low or low == high:
        return f"Below formal threshold: resuscitation by formula starts at {low:f} %TBSA at this age."
    return f"Below formal threshold for some: resuscitation by formula starts at {low:f} or at {high:f} %TBSA."
