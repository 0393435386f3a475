"""The theatre list in words: steps, preparation rules, and what becomes of leftover skin."""

from __future__ import annotations

from service.domain.theatre_list import LeftoverSkin, ListStep
from service.evidence.library import Evidence, EvidenceRow
from service.wording.catalogue import fill, load_table
from service.wording.methods import skin_class_in_words
from service.wording.rounding import supply_cm2


def word_step(step: ListStep) -> str:
    """One step of the order of work, with its minutes where they are estimated."""
    text = fill(load_table("steps")[step.text_code]["text"], dict(step.values))
    return text if step.minutes is None else f"{text} (about {step.minutes:.0f} min)"


def word_preparation(code: str, evidence: Evidence) -> str:
    """A preparation rule with the numbers of the site configuration."""
    values = {
        "spray_distance_cm": _range(evidence.row("spray-distance-cm")),
        "adhesive_drying_minutes": f"{evidence.value('adhesive-drying-minutes'):f}",
        "stored_skin_plan": f"{evidence.value('stored-skin-days', 'plan'):f}",
        "stored_skin_hard": f"{evidence.value('stored-skin-days', 'hard'):f}",
    }
    return fill(load_table("preparation")[code]["text"], values)


def word_leftover(leftover: LeftoverSkin, evidence: Evidence) -> str:
    """How much skin of a class is left over, and what becomes of it."""
    skin = f"{supply_cm2(leftover.area_cm2)} ({skin_class_in_words(leftover.skin_class)})"
    return f"Skin left over: {skin}: {word_preparation(leftover.fate, evidence)}."


def _range(row: EvidenceRow) -> str:
    return f"{row.value:f}" if row.low is None else f"{row.low:f}-{row.high:f}"
