"""Findings in words: title, detail, what to do about it, and the evidence behind it."""

from __future__ import annotations

from dataclasses import dataclass

from service.domain.finding import Finding, Severity
from service.wording.catalogue import fill, load_table
from service.wording.places import place_in_words

#: How limits are joined: each of them, or all of them.
_JOINED = {"either": " or ", "limits": " and "}
_EXTENTS = {
    "complete": "each limit was tried alone",
    "partial": "not every set was tried, because the number of plans allowed was used up",
}


@dataclass(frozen=True)
class WordedFinding:
    """A finding as it is printed.

    ``where`` names session and place, empty when it is about the whole; ``detail`` is both in
    one sentence; ``evidence_ids`` are rows of the evidence tables.
    """

    code: str
    severity: Severity
    title: str
    where: str
    text: str
    mitigation: str
    evidence_ids: tuple[str, ...]

    @property
    def detail(self) -> str:
        return f"{self.where[0].upper()}{self.where[1:]}: {self.text}" if self.where else self.text


def word_finding(finding: Finding) -> WordedFinding:
    """Put a finding into words.

    Raises ``KeyError`` when its code has no row in ``tables/findings.csv``.
    """
    row = load_table("findings")[finding.code]
    values = {name: _word_value(name, value) for name, value in finding.values}
    return WordedFinding(
        code=finding.code,
        severity=finding.severity,
        title=fill(row["title"], values),
        where=_locate(finding),
        text=fill(row["text"], values),
        mitigation=fill(row["mitigation"], values),
        evidence_ids=tuple(row["evidence"].split()),
    )


def _word_value(name: str, value: str) -> str:
    """Places, rules and limits come as codes; everything else is text already."""
    if name == "place":
        return place_in_words(value)
    if name in _JOINED:
        limits = [load_table("limits")[code]["text"] for code in value.split()]
        return _JOINED[name].join([", ".join(limits[:-1]), limits[-1]] if len(limits) > 1 else limits)
    if name == "extent":
        return _EXTENTS[value]
    if name == "rule":
        return load_table("rules")[value]["held_back_by"]
    return value


def word_code(code: str) -> str:
    """What has to be confirmed when a finding stands for a question; else its title.

    Raises ``KeyError`` when the code has no row in ``tables/findings.csv``.
    """
    row = load_table("findings")[code]
    return row["question"] or row["title"]


def _locate(finding: Finding) -> str:
    """Session and place: ``session 2, left thigh``."""
    session = f"session {finding.session}" if finding.session is not None else ""
    place = place_in_words(finding.place) if finding.place else ""
    return ", ".join(part for part in (session, place) if part)
