"""The findings of the text answer: by severity, the same words about several places once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal, InvalidOperation

from service.domain.answer import PlanAnswer
from service.domain.finding import Finding, Severity
from service.wording.findings import word_finding
from service.wording.plan_difference import PLAN_CHANGED
from service.wording.text_table import heading, paragraph

#: Unit of a value as it is printed beside its session or place.
_UNITS = {"minutes": " min", "area_cm2": " cm²", "percent_tbsa": " %TBSA", "days": " days"}


def write_findings(answer: PlanAnswer) -> list[str]:
    """One entry for all that say the same, also when they differ in one number only."""
    grouped: dict[tuple, list[Finding]] = defaultdict(list)
    for finding in (f for f in answer.findings if f.code != PLAN_CHANGED):  # told at the head of the answer
        grouped[_sameness(finding)].append(finding)
    lines = heading("Findings") if grouped else []
    for severity in Severity:
        for same in grouped.values():
            if same[0].severity is severity:
                lines += _write_entry(same)
    return lines


def _sameness(finding: Finding) -> tuple:
    """What must agree for two findings to be told as one."""
    said = tuple(name for name, _ in finding.values) if _number_of(finding) is not None else finding.values
    return finding.severity, finding.code, said


def _number_of(finding: Finding) -> Decimal | None:
    """The number of a finding that tells one number and nothing else."""
    if len(finding.values) != 1:
        return None
    try:
        return Decimal(finding.values[0][1])
    except InvalidOperation:
        return None


def _write_entry(same: Sequence[Finding]) -> list[str]:
    numbers = sorted({n for n in map(_number_of, same) if n is not None})
    if len(numbers) > 1:
        told = replace(same[0], values=((same[0].values[0][0], f"{numbers[0]:f} to {numbers[-1]:f}"),))
        places = map(_place_with_number, same)
    else:
        told = same[0]
        places = (word_finding(finding).where for finding in same)
    words = word_finding(told)
    where = "; ".join(dict.fromkeys(place for place in places if place))
    lines = paragraph(f"{words.severity.upper()}: {words.title}", "  ", "  ")
    lines += paragraph(words.text, "    ")
    lines += paragraph(f"Where: {where}.", "    ", "  ") if where else []
    return lines + paragraph(f"To do: {words.mitigation}", "    ")


def _place_with_number(finding: Finding) -> str:
    """``session 1: 212 min``."""
    name, number = finding.values[0]
    value = f"{number}{_UNITS.get(name, '')}"
    where = word_finding(finding).where
    return f"{where}: {value}" if where else value
