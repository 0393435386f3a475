"""Which numbers of the evidence would change the first session, in words."""

from __future__ import annotations

from service.domain.answer import PlanAnswer
from service.domain.forecast import ParameterEffect
from service.domain.graft import GraftMethod
from service.wording.beside_text import word_first_session
from service.wording.methods import method_in_words

_UNITS = {"d": " days", "1": ""}


def word_parameters(answer: PlanAnswer) -> list[str]:
    """Each number that would change the first session at an end of its range, then what was tried."""
    tried = answer.plan.parameter_sensitivity
    if tried is None or not tried.row_ids:
        return []
    sentences = [
        f"If the {_name(effect.row_id)} were {_amount(effect)}, the first session would be different: "
        f"{'; '.join(word_first_session(answer.case, tried.usual, effect.first))}."
        for effect in tried.effects
    ]
    names = "; ".join(_name(row_id) for row_id in tried.row_ids)
    extent = f"Tried at both ends of the range, by the rule of thumb: {names}. More or less skin alone does not count."
    return [*(sentences or ["No number that was tried, at an end of its range, changes the first session."]), extent]


def _name(row_id: str) -> str:
    parameter, _, applies_to = row_id.partition("/")
    words = parameter.replace("-", " ")
    if applies_to == "any":
        return words
    if applies_to in set(GraftMethod):
        return f"{words} of {method_in_words(GraftMethod(applies_to))}"
    return f"{words} ({applies_to.replace('-', ' ')})"


def _amount(effect: ParameterEffect) -> str:
    return f"{effect.value:f} instead of {effect.usual_value:f}{_UNITS.get(effect.unit, f' {effect.unit}')}"
