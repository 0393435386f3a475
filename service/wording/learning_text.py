"""What was learnt from this patient, in words: posterior, prior and data of each quantity."""

from __future__ import annotations

from decimal import Decimal

from service.domain.learning import Belief, Learned, LearnedAbout
from service.wording.languages import ENGLISH, N_, Words
from service.wording.rounding import number_in_words
from service.wording.text_table import heading, paragraph

_TAKE_OF = {
    LearnedAbout.SHEET_TAKE: N_("Take of sheets in this patient: {now} (prior {before})."),
    LearnedAbout.MESHED_TAKE: N_("Take of meshed grafts in this patient: {now} (prior {before})."),
    LearnedAbout.ISLAND_TAKE: N_("Take of islands in this patient: {now} (prior {before})."),
}
_HUNDREDTH = Decimal("0.01")


def write_learning(learned: tuple[Learned, ...]) -> list[str]:
    """The section of the text answer; nothing where nothing has been read."""
    lines = heading("Learnt from this patient") if learned else []
    for one in learned:
        lines += paragraph(f"{word_learned(one)} {word_data(one)}", "  ", "  ")
    return lines


def word_learned(learned: Learned, _: Words = ENGLISH) -> str:
    """What is expected now, and what was expected before anything was read."""
    if learned.about is LearnedAbout.DONOR_HEALING:
        healing = _("Healing of donor sites in this patient: {now} times the days of such sites (prior {before}).",
                    now=_ratio(learned.posterior), before=_ratio(learned.prior))
        return f"{healing} {_what_it_means(learned, _)}"
    return _(_TAKE_OF[learned.about], now=_percent(learned.posterior), before=_percent(learned.prior))


def word_data(learned: Learned, _: Words = ENGLISH) -> str:
    """The readings behind it."""
    if learned.about is LearnedAbout.DONOR_HEALING:
        mean = _("{ratio} times", ratio=number_in_words(learned.observed_ratio, _HUNDREDTH))
    else:
        mean = f"{number_in_words(learned.observed_ratio * 100)} %"
    return _("From {readings} in {sessions}: {mean}.", mean=mean,
             readings=_.ngettext("{num} reading", "{num} readings", learned.reading_count),
             sessions=_.ngettext("{num} session", "{num} sessions", learned.session_count))


def _what_it_means(learned: Learned, _: Words) -> str:
    if learned.posterior.value > 1:
        return _("Harvested sites are expected to heal later accordingly.")
    return _("Planned as in all patients: a site counts as healed early only when it is recorded.")


def _percent(belief: Belief) -> str:
    value, low, high = (number_in_words(part * 100) for part in (belief.value, belief.low, belief.high))
    return f"{value} % ({low}-{high})"


def _ratio(belief: Belief) -> str:
    value, low, high = (number_in_words(part, _HUNDREDTH) for part in (belief.value, belief.low, belief.high))
    return f"{value} ({low}-{high})"
