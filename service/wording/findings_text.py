"""Findings as they are read: by severity, the same words about several places once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal, InvalidOperation

from service.domain.answer import PlanAnswer
from service.domain.finding import Finding, Severity
from service.wording.findings import WordedFinding, word_finding
from service.wording.languages import ENGLISH, Words
from service.wording.plan_difference import PLAN_CHANGED
from service.wording.text_table import heading, paragraph

#: Unit of a value as it is printed beside its session or place.
_UNITS = {"minutes": " min", "area_cm2": " cm²", "percent_tbsa": " %TBSA", "days": " days"}


def write_findings(answer: PlanAnswer) -> list[str]:
    """The section of the text answer, without what its head has told."""
    told = word_findings(f for f in answer.findings if f.code != PLAN_CHANGED)
    lines = heading("Findings") if told else []
    for words in told:
        lines += paragraph(f"{words.severity.upper()}: {words.title}", "  ", "  ")
        lines += paragraph(words.text, "    ")
        lines += paragraph(f"Where: {words.where}.", "    ", "  ") if words.where else []
        lines += paragraph(f"To do: {words.mitigation}", "    ")
    return lines


def word_findings(findings: Iterable[Finding], _: Words = ENGLISH) -> list[WordedFinding]:
    """One for all that say the same, also when they differ in one number only; the most severe first."""
    grouped: dict[tuple, list[Finding]] = defaultdict(list)
    for finding in findings:
        grouped[_sameness(finding)].append(finding)
    return [_join(same, _) for severity in Severity for same in grouped.values() if same[0].severity is severity]


def _sameness(finding: Finding) -> tuple:
    """What must agree for two findings to be told as one."""
    said = tuple(name for name, _ in finding.values) if _number_of(finding) is not None else finding.values
    return finding.severity, finding.code, said


def _number_of(finding: Finding) -> Decimal | None:
    """The number of a finding that tells one number and nothing else."""
    if len(finding.values) != 1:
        return None
    try:
        return Decimal(finding.values[0][1].replace(",", ""))
    except InvalidOperation:
        return None


def _join(same: Sequence[Finding], _: Words) -> WordedFinding:
    numbers = sorted({n for n in map(_number_of, same) if n is not None})
    if len(numbers) > 1:
        span = _("{first} to {last}", first=f"{numbers[0]:,f}", last=f"{numbers[-1]:,f}")
        told = replace(same[0], values=((same[0].values[0][0], span),))
        places = [_place_with_number(finding, _) for finding in same]
    else:
        told = same[0]
        places = [word_finding(finding, _).where for finding in same]
    where = "; ".join(dict.fromkeys(place for place in places if place))
    return replace(word_finding(told, _), where=where)


def _place_with_number(finding: Finding, _: Words) -> str:
    """``session 1: 212 min``."""
    name, number = finding.values[0]
    value = f"{number}{_UNITS.get(name, '')}"
    where = word_finding(finding, _).where
    return f"{where}: {value}" if where else value
