"""What if, in words: the conditions, both plans side by side, and the difference."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.course_figures import CourseFigures
from service.domain.graft import GraftMethod
from service.domain.what_if import WhatIf, WhatIfAnswer
from service.wording.asked_for import as_stated, word_decision
from service.wording.dates import date_in_words
from service.wording.findings import word_finding
from service.wording.methods import method_in_words
from service.wording.places import place_in_words
from service.wording.rounding import TENTH, need_cm2, number_in_words, percent_tbsa, round_need_up
from service.wording.text_table import Column, heading, paragraph, table

NOTICE = "This is not the plan: it shows what would follow under other conditions."
HOLDS_WITHOUT = "This plan keeps every rule without the conditions too: it could be chosen as it is."
_NONE = "-"


def write_what_if(answer: PlanAnswer) -> list[str]:
    """The section of the text answer; nothing when no what-if was asked."""
    if answer.what_if is None:
        return []
    lines = heading("What if")
    for text in (f"What if: {'; '.join(word_conditions(answer.what_if.asked))}.", NOTICE, *word_difference(answer)):
        lines += paragraph(text, "  ", "  ")
    rows = compare_rows(answer.what_if)
    if rows:
        columns = [Column("", 32), Column("Plan", 22, True), Column("What if", 22, True)]
        lines += ["", *table(columns, rows)]
    return lines


def word_conditions(asked: WhatIf) -> list[str]:
    """Each condition in a few words."""
    return [
        *(f"no skin from {place_in_words(key)}" for key in asked.excluded_sites),
        *(f"skin of {place_in_words(key)} healed and free to take" for key in asked.freed_sites),
        *(f"no theatre on {date_in_words(day)}" for day in asked.dropped_days),
        *_amounts(asked),
        *(f"no {method_in_words(m)}" for m in GraftMethod if m in asked.methods_unavailable),
        *(f"decided: {word_decision(decision)}" for decision in asked.fixed_decisions),
    ]


def _amounts(asked: WhatIf) -> Iterator[str]:
    if asked.cover_stock_cm2 is not None:
        yield f"{as_stated(asked.cover_stock_cm2)} cm² of temporary cover in stock"
    if asked.transfusion_units is not None:
        yield f"{asked.transfusion_units} red-cell units available"
    if asked.session_area_limit_percent_tbsa is not None:
        yield f"at most {as_stated(asked.session_area_limit_percent_tbsa)} %TBSA in a session"
    if asked.session_minutes_limit is not None:
        yield f"at most {as_stated(asked.session_minutes_limit)} minutes of surgery in a session"


def word_difference(answer: PlanAnswer) -> list[str]:
    """What the conditions change, in short sentences."""
    what_if = answer.what_if
    if what_if.figures is None:
        return ["Under these conditions no plan is made.", *_reasons_for_none(what_if)]
    if what_if.recommended is None:
        return ["Under these conditions there is a plan, and without them there is none."]
    chosen = [HOLDS_WITHOUT] if what_if.holds_without else []
    return [*_differences(what_if, what_if.recommended, what_if.figures), *chosen, *_new_findings(answer)]


def _reasons_for_none(what_if: WhatIfAnswer) -> Iterator[str]:
    for finding in what_if.plan.findings:
        if finding.code == what_if.plan.reason_no_plan:
            yield word_finding(finding).detail


def _differences(what_if: WhatIfAnswer, plan: CourseFigures, other: CourseFigures) -> Iterator[str]:
    if plan == other:
        yield "Nothing changes: the plan holds under these conditions, and no better one was found."
        return
    sessions = len(other.session_days) - len(plan.session_days)
    if sessions:
        yield f"{_more(abs(sessions), 'session', sessions > 0)}."
    if plan.session_days[:1] != other.session_days[:1]:
        first = "none" if not other.session_days else date_in_words(what_if.case.date_of(other.session_days[0]))
        yield f"First session: {first}."
    yield from _of_closure(what_if, plan, other)
    skin = other.harvested_cm2 - plan.harvested_cm2
    if skin:
        yield f"{need_cm2(abs(skin))} {'more' if skin > 0 else 'less'} skin taken over the whole course."
    cost = other.objective_days - plan.objective_days
    if cost:
        yield (f"{_days(abs(cost))} {'worse' if cost > 0 else 'better'} by these weights "
               f"({_days(other.objective_days)} instead of {_days(plan.objective_days)}).")


def _of_closure(what_if: WhatIfAnswer, plan: CourseFigures, other: CourseFigures) -> Iterator[str]:
    """Area left open first: a day of closure means little while something stays open."""
    case = what_if.case
    if other.open_cm2 != plan.open_cm2:
        percent = percent_tbsa(round_need_up(case.percent_tbsa(other.open_cm2), TENTH))
        yield (f"{need_cm2(other.open_cm2)} ({percent}) still open at the end instead of {need_cm2(plan.open_cm2)}."
               if other.open_cm2 else f"All wounds are grafted; the plan leaves {need_cm2(plan.open_cm2)} open.")
    elif other.closure_day is not None and plan.closure_day is not None and other.closure_day != plan.closure_day:
        days = other.closure_day - plan.closure_day
        late = f"{abs(days)} {'day' if abs(days) == 1 else 'days'} {'later' if days > 0 else 'earlier'}"
        yield f"Expected closed {late}, on {date_in_words(case.date_of(other.closure_day))}."


def _days(cost: Decimal) -> str:
    return f"{number_in_words(cost, TENTH)} %TBSA-days"


def _more(count: int, word: str, is_more: bool) -> str:
    plural = word if count == 1 else f"{word}s"
    return f"{count} {plural} {'more' if is_more else 'fewer'}"


def _new_findings(answer: PlanAnswer) -> Iterator[str]:
    """What would have to be said about this plan and not about the plan of record."""
    said = {finding.code for finding in answer.plan.findings}
    new = dict.fromkeys(f.code for f in answer.what_if.plan.findings if f.code not in said)
    titles = [word_finding(next(f for f in answer.what_if.plan.findings if f.code == code)).title for code in new]
    if titles:
        yield f"To know then: {'; '.join(title.rstrip('.') for title in titles)}."


def compare_rows(what_if: WhatIfAnswer) -> list[tuple[str, str, str]]:
    """Label, plan of record, what if; a dash where there is nothing of the kind. None without another plan."""
    plan, other = what_if.recommended, what_if.figures
    if other is None or other == plan:
        return []

    def row(label: str, word: Callable[[CourseFigures], str]) -> tuple[str, str, str]:
        return label, *(_NONE if figures is None else word(figures) for figures in (plan, other))

    return [
        row("Sessions", lambda f: str(len(f.session_days))),
        row("Expected closed", lambda f: _date(what_if, f.closure_day)),
        row("Still open at the end", lambda f: need_cm2(f.open_cm2)),
        row("Skin taken", lambda f: need_cm2(f.harvested_cm2)),
        row("Cost by these weights", lambda f: _days(f.objective_days)),
        *_method_rows(plan, other, row),
        *_session_rows(what_if, plan, other),
    ]


def _method_rows(plan: CourseFigures | None, other: CourseFigures | None, row: Callable) -> list[tuple[str, str, str]]:
    used = {method for figures in (plan, other) if figures for method, _ in figures.area_by_method}
    return [
        row(f"Grafted: {method_in_words(method)}", lambda f, m=method: _area(dict(f.area_by_method).get(m)))
        for method in GraftMethod if method in used
    ]


def _date(what_if: WhatIfAnswer, day: int | None) -> str:
    return _NONE if day is None else date_in_words(what_if.case.date_of(day))


def _area(area_cm2: Decimal | None) -> str:
    return need_cm2(area_cm2) if area_cm2 else _NONE


def _session_rows(what_if: WhatIfAnswer, plan: CourseFigures | None,
                  other: CourseFigures | None) -> Iterator[tuple[str, str, str]]:
    """Sessions in order: the day, the skin taken, and each site that gives another amount."""
    held = [figures.session_days if figures else () for figures in (plan, other)]
    for number in range(max(map(len, held))):
        days = [days[number] if number < len(days) else None for days in held]
        taken = [_taken(figures, day) for figures, day in zip((plan, other), days, strict=True)]
        yield f"Session {number + 1}", *(_date(what_if, day) for day in days)
        yield "  skin taken", *(_area(sum(sites.values(), Decimal(0))) for sites in taken)
        for site in sorted({*taken[0], *taken[1]}):
            areas = [sites.get(site) for sites in taken]
            if areas[0] != areas[1]:
                yield f"    {place_in_words(site)}", *map(_area, areas)


def _taken(figures: CourseFigures | None, day: int | None) -> dict[str, Decimal]:
    return {h.site_id: h.area_cm2 for h in figures.harvests if h.day == day} if figures else {}
