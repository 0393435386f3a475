"""Findings in words: title, detail, what to do about it, and the evidence behind it."""

from __future__ import annotations

from dataclasses import dataclass

from service.domain.case import Act
from service.domain.finding import Finding, Severity
from service.wording.catalogue import fill, load_table
from service.wording.languages import ENGLISH, N_, Words
from service.wording.places import place_in_words

#: How limits are joined: each of them, or all of them.
_JOINED = {"either": Words.either, "limits": Words.each}
_ACTS = {Act.EXCISE: N_("excise"), Act.HARVEST: N_("take skin from"), Act.PLACE: N_("graft")}
_EXTENTS = {
    "complete": N_("each limit was tried alone"),
    "partial": N_("not every set was tried, because the number of plans allowed was used up"),
}


@dataclass(frozen=True)
class WordedFinding:
    """A finding as it is printed.

    ``urgency`` is its severity in words; ``where`` names session and place, empty when it is
    about the whole; ``detail`` is both in one sentence; ``evidence_ids`` are rows of the
    evidence tables.
    """

    code: str
    severity: Severity
    urgency: str
    title: str
    where: str
    text: str
    mitigation: str
    evidence_ids: tuple[str, ...]

    @property
    def detail(self) -> str:
        return f"{self.where[0].upper()}{self.where[1:]}: {self.text}" if self.where else self.text


def word_finding(finding: Finding, _: Words = ENGLISH) -> WordedFinding:
    """Put a finding into words.

    Raises ``KeyError`` when its code has no row in ``tables/findings.csv``.
    """
    row = load_table("findings")[finding.code]
    values = {name: _word_value(name, value, dict(finding.values), _) for name, value in finding.values}
    return WordedFinding(
        code=finding.code,
        severity=finding.severity,
        urgency=_(str(finding.severity)),
        title=fill(_(row["title"]), values),
        where=_locate(finding, _),
        text=fill(_(row["text"]), values),
        mitigation=fill(_(row["mitigation"]), values),
        evidence_ids=tuple(row["evidence"].split()),
    )


def _word_value(name: str, value: str, figures: dict[str, str], _: Words) -> str:
    """Places, rules and limits come as codes, these with their figures beside them; everything else is text."""
    if name == "place":
        return place_in_words(value, _)
    if name in _JOINED:
        return _JOINED[name](_, (fill(_(load_table("limits")[code]["text"]), figures) for code in value.split()))
    if name == "extent":
        return _(_EXTENTS[value])
    if name == "act":
        return _(_ACTS[value])
    if name == "rule":
        return _(load_table("rules")[value]["held_back_by"])
    return value


def word_code(code: str, _: Words = ENGLISH) -> str:
    """What has to be confirmed when a finding stands for a question; else its title.

    Raises ``KeyError`` when the code has no row in ``tables/findings.csv``.
    """
    row = load_table("findings")[code]
    return _(row["question"] or row["title"])


def _locate(finding: Finding, _: Words) -> str:
    """Session and place: ``session 2, left thigh``."""
    session = [_("session {number}", number=finding.session)] if finding.session is not None else []
    place = [place_in_words(finding.place, _)] if finding.place else []
    return _.series((*session, *place)) if session or place else ""
