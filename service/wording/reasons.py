"""Why a session is as it is, in words: the rules that held it back and the choices made."""

from __future__ import annotations

from service.domain.plan import Reason
from service.domain.rule import Rule
from service.wording.catalogue import fill, load_table
from service.wording.languages import ENGLISH, Words

_BOUND_BY = "bound-by-"


def word_rule(rule: str, _: Words = ENGLISH) -> str:
    """What held a session back: ``held back by the rest between sessions``.

    Raises ``ValueError`` for a name that is no rule.
    """
    return _("held back by {limit}", limit=_(load_table("rules")[Rule(rule).value]["held_back_by"]))


def word_reason(reason: Reason, _: Words = ENGLISH) -> str:
    """One sentence for a reason.

    Raises ``KeyError`` when its code has no row in ``tables/reasons.csv``.
    """
    if reason.code.startswith(_BOUND_BY):
        words = word_rule(reason.code.removeprefix(_BOUND_BY), _)
        return f"{words[0].upper()}{words[1:]}."
    values = {name: _(value) for name, value in reason.values}
    words = fill(_(load_table("reasons")[reason.code]["text"]), values)
    return f"{words[0].upper()}{words[1:]}"
