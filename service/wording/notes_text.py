"""The end of the text answer: alternatives, sources and cautions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.plan import Variant
from service.evidence.library import Evidence
from service.wording.catalogue import load_table
from service.wording.cautions import CAUTIONS
from service.wording.dates import date_in_words
from service.wording.findings import word_finding
from service.wording.languages import ENGLISH, Words
from service.wording.rounding import need_cm2
from service.wording.text_table import heading, paragraph


def write_variants(answer: PlanAnswer) -> list[str]:
    """The plan under the other answer to each open question, a line each."""
    lines = heading("If an open question turns out otherwise") if answer.plan.variants else []
    for variant in answer.plan.variants:
        lines += paragraph(word_variant(answer, variant), "  ", "  ")
    return lines


def word_variant(answer: PlanAnswer, variant: Variant, _: Words = ENGLISH) -> str:
    """The size of the plan under another answer to an open question, in one sentence."""
    row = load_table("variants").get(f"{variant.question}/{variant.answer}")
    question = _(row["text"]) if row else f"{variant.question}: {variant.answer}".replace("-", " ")
    first = min((s.day for s in variant.plan.firm_sessions), default=None)
    taken = sum((h.area_cm2 for h in variant.plan.harvests), Decimal(0))
    now = sum((h.area_cm2 for h in variant.plan.harvests if h.day == first), Decimal(0))
    parts = [
        _.ngettext("{num} session", "{num} sessions", len(variant.plan.firm_sessions)),
        _("skin taken {total}, of it {first} in the first session", total=need_cm2(taken), first=need_cm2(now)),
    ]
    if variant.plan.open_cm2:
        parts.append(_("{area} still open", area=need_cm2(variant.plan.open_cm2)))
    elif variant.closure_day is not None:
        date = date_in_words(answer.case.date_of(variant.closure_day))
        parts.append(_("expected closed on {date}", date=date))
    return _("{question}, by our simplified rule: {answer}.", question=question, answer=_.series(parts))


def write_sources(answer: PlanAnswer, evidence: Evidence) -> list[str]:
    """Rows that the numbers come from, by source, and the versions of everything."""
    lines = heading("Sources")
    for text in sources_in_words(answer, evidence):
        lines += paragraph(text, "  ", "  ")
    for text in word_versions(answer):
        lines += paragraph(text)
    return lines


def sources_in_words(answer: PlanAnswer, evidence: Evidence) -> list[str]:
    """A line for each source with its rows; what is from memory carries ``(M)``."""
    by_source: dict[str, list[str]] = defaultdict(list)
    for row_id in sorted(set(_row_ids(answer))):
        parameter, _, applies_to = row_id.partition("/")
        by_source[evidence.row(parameter, applies_to).citation].append(row_id)
    return [f"{citation}: {', '.join(rows)}" for citation, rows in sorted(by_source.items())]


def word_versions(answer: PlanAnswer, _: Words = ENGLISH) -> list[str]:
    """What the mark ``(M)`` means, and what the answer was made with."""
    versions = answer.versions
    return [
        _("(M) written from memory, not checked against a source. Preferences are value judgements of this "
          "service, which a burn team must set."),
        _("Software {software}; evidence {evidence} ({evidence_hash}); preferences {preferences}; input {input}; "
          "seed {seed}.", software=versions.software, evidence=versions.evidence,
          evidence_hash=versions.evidence_sha256[:12], preferences=versions.preferences_sha256[:12],
          input=versions.input_sha256[:12], seed=versions.seed),
    ]


def _row_ids(answer: PlanAnswer) -> Iterable[str]:
    for listed in answer.theatre_lists:
        quantities = (*listed.quantities, *(line.area for line in listed.harvests))
        people = (role.people for role in listed.roles if role.people is not None)
        timed = (timer.minutes for timer in listed.timers)
        yield from (source for quantity in (*quantities, *people, *timed) for source in quantity.sources)
    for event in answer.events:
        yield from (source for quantity in event.quantities for source in quantity.sources)
        yield from event.sources
    for finding in answer.findings:
        yield from word_finding(finding).evidence_ids
    if answer.fluid_estimate:
        yield from answer.fluid_estimate.sources


def write_cautions() -> list[str]:
    lines = heading("Cautions")
    for caution in CAUTIONS:
        lines += paragraph(caution, "  ", "  ")
    return lines
