"""What stands against an order that is about to be signed, in words."""

from __future__ import annotations

from collections.abc import Sequence

from service.domain.case import Act, GraftingCase
from service.domain.order import OrderFault, OrderProblem
from service.wording.card_text import DataDay, escape_markdown, fit_summary, list_in_markdown, word_data_line
from service.wording.cautions import CAUTIONS
from service.wording.dates import date_in_words
from service.wording.methods import method_in_words
from service.wording.places import place_in_words, region_in_words
from service.wording.rounding import need_cm2, supply_cm2

_TO_DO = {
    OrderFault.NO_SKIN_THERE: "Choose another donor site.",
    OrderFault.BEFORE_HEALING: "Look at the site and record its state, wait for it, or choose another one.",
    OrderFault.SHORT_OF_SKIN: "Take a smaller area, expand it wider where the region allows it, or wait for healing.",
}


def word_order_summary(case: GraftingCase, problems: Sequence[OrderProblem]) -> str:
    """The first problem in one line, and how many more there are."""
    more = f"{len(problems) - 1} more." if len(problems) > 1 else ""
    return fit_summary(_parts(case, problems[0]), more)


def word_order_detail(case: GraftingCase, problems: Sequence[OrderProblem], data: DataDay | None) -> str:
    """Every problem with what could be done, on which data."""
    lines = [" ".join([*_parts(case, problem), _TO_DO[problem.fault]]) for problem in problems]
    return "\n\n".join([
        word_data_line(data), list_in_markdown("Against the order", lines), escape_markdown(" ".join(CAUTIONS[:2]))])


def _parts(case: GraftingCase, problem: OrderProblem) -> list[str]:
    order = problem.order
    place = region_in_words(order.places[0]) if len(order.places) > 1 else place_in_words(order.places[0].key)
    when = date_in_words(case.date_of(order.day))
    if order.act is Act.PLACE:
        return [
            f"Graft of {need_cm2(order.area_cm2)} on {place}, {method_in_words(order.method)}, {when}: "
            f"needs {need_cm2(problem.needed_cm2)} of skin,", f"{supply_cm2(problem.usable_cm2)} is usable."]
    if problem.fault is OrderFault.NO_SKIN_THERE:
        return [f"Harvest from {place} on {when}: no skin can be taken there."]
    asked = f"{need_cm2(problem.needed_cm2)} ordered, " if problem.needed_cm2 is not None else ""
    usable = f"{asked}{supply_cm2(problem.usable_cm2)} usable."
    if problem.fault is OrderFault.SHORT_OF_SKIN:
        return [f"Harvest from {place} on {when}:", usable]
    return [
        f"Harvest from {place} on {when} before it has healed:", usable,
        f"Healed by {date_in_words(case.date_of(problem.healed_day))} at the cautious end."]
