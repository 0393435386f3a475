"""What was learnt from this patient, in words: posterior, prior and data of each quantity."""

from __future__ import annotations

from decimal import Decimal

from service.domain.learning import Belief, Learned, LearnedAbout
from service.wording.rounding import number_in_words
from service.wording.text_table import heading, paragraph

_TAKE_OF = {
    LearnedAbout.SHEET_TAKE: "sheets", LearnedAbout.MESHED_TAKE: "meshed grafts", LearnedAbout.ISLAND_TAKE: "islands",
}
_HUNDREDTH = Decimal("0.01")


def write_learning(learned: tuple[Learned, ...]) -> list[str]:
    """The section of the text answer; nothing where nothing has been read."""
    lines = heading("Learnt from this patient") if learned else []
    for one in learned:
        lines += paragraph(f"{word_learned(one)} {word_data(one)}", "  ", "  ")
    return lines


def word_learned(learned: Learned) -> str:
    """What is expected now, and what was expected before anything was read."""
    if learned.about is LearnedAbout.DONOR_HEALING:
        return (f"Healing of donor sites in this patient: {_ratio(learned.posterior)} times the days of such sites "
                f"(prior {_ratio(learned.prior)}).{_what_it_means(learned)}")
    return (f"Take of {_TAKE_OF[learned.about]} in this patient: {_percent(learned.posterior)} "
            f"(prior {_percent(learned.prior)}).")


def word_data(learned: Learned) -> str:
    """The readings behind it."""
    if learned.about is LearnedAbout.DONOR_HEALING:
        mean = f"{number_in_words(learned.observed_ratio, _HUNDREDTH)} times"
    else:
        mean = f"{number_in_words(learned.observed_ratio * 100)} %"
    return f"From {_count(learned.reading_count, 'reading')} in {_count(learned.session_count, 'session')}: {mean}."


def _what_it_means(learned: Learned) -> str:
    if learned.posterior.value > 1:
        return " Harvested sites are expected to heal later accordingly."
    return " Planned as in all patients: a site counts as healed early only when it is recorded."


def _percent(belief: Belief) -> str:
    value, low, high = (number_in_words(part * 100) for part in (belief.value, belief.low, belief.high))
    return f"{value} % ({low}-{high})"


def _ratio(belief: Belief) -> str:
    value, low, high = (number_in_words(part, _HUNDREDTH) for part in (belief.value, belief.low, belief.high))
    return f"{value} ({low}-{high})"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
