"""The linear model of a course: sessions in slots of days, wounds and donor sites in classes.

With slots of several days and sessions in part it is a relaxation: whatever the rules allow,
it allows at no more cost, so its optimum is a lower bound. With one slot a chosen day and all
sessions held it is the plan of those days, but for pieces, plates and smallest harvests.
Areas in %TBSA. What each rule adds stands in ``course_rules``.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from service.domain.body_region import Position
from service.domain.graft import GraftMethod, Thickness
from service.planning.calendar import positions_allowed
from service.planning.course_classes import DonorClass, WoundClass, cost_of_placing
from service.planning.quantities import PlanningQuantities, tenths
from service.planning.session_budget import minutes_limit
from service.solver.linear_model import LinearModel, LinearProgram

_THIN, _MEDIUM = Thickness.THIN, Thickness.MEDIUM
_HAIR = 1e-9


@dataclass(frozen=True)
class Slots:
    """Spans of days, in order. ``most``: sessions that a slot can hold; ``least``: that it must."""

    first: np.ndarray
    last: np.ndarray
    most: np.ndarray
    least: np.ndarray

    def __len__(self) -> int:
        return len(self.first)


def slots_of_days(days: tuple[int, ...]) -> Slots:
    """Chosen days, a session on each of them."""
    first = np.array(days, int)
    return Slots(first, first, np.ones(len(days)), np.ones(len(days)))


@dataclass(frozen=True)
class Facts:
    """What a case is to the model. Per-slot limits are made from it when slots are chosen."""

    quantities: PlanningQuantities
    wounds: tuple[WoundClass, ...]
    donors: tuple[DonorClass, ...]
    first_session_day: int | None  # until then only skin healed by record; ``None``: it has been held
    owed_skin: float = 0.0  # that the losses of what a course has placed will need. [%TBSA]
    cover_left: float | None = None  # stock that a course has left; ``None``: all of it. [%TBSA]
    covers: tuple[tuple[float, int], ...] = ()  # bed that a course excised: its area, and the last day of its cover

    @property
    def horizon(self) -> int:
        return self.quantities.case.horizon_day

    @property
    def percent(self) -> float:
        """Tenths of a cm² in 1 %TBSA."""
        return float(self.quantities.percent_tenths)

    @property
    def cover_stock(self) -> float:
        if self.cover_left is not None:
            return self.cover_left
        return tenths(self.quantities.case.request.cover_stock_cm2 or 0) / self.percent


@dataclass(frozen=True)
class Choices:
    """What a plan must decide and a bound leaves open.

    ``open_cost``: what area left open costs beyond its days, to have as little of it as
    possible. ``front_days``, ``back_days``: days on which wounds that bear weight lying prone,
    or supine, may be grafted; ``None``: all. ``only_lying``: the one position of a day.
    ``first_margin``, ``later_margin``: share of every limit of a session, and of the skin of a site, that is
    left free for rounding in the first session and in later ones. ``regraft_level``: how wide
    a plan regrafts what is lost. ``excises_ahead``: whether bed may wait under cover for its graft.
    """

    open_cost: float = 0.0
    front_days: frozenset[int] | None = None
    back_days: frozenset[int] | None = None
    only_lying: tuple[tuple[int, Position], ...] = ()
    first_margin: float = 0.0
    later_margin: float = 0.0
    regraft_level: GraftMethod | None = None
    excises_ahead: bool = True


RELAXED = Choices()


@dataclass
class Course:
    """Columns of the model by what they mean; slots are the last axis. ``ABSENT`` where there is none."""

    facts: Facts
    slots: Slots
    choices: Choices
    model: LinearModel
    option_class: np.ndarray  # class of each (class, method) option
    option_skin: np.ndarray
    held: np.ndarray  # session held
    held_up_to: np.ndarray  # sessions up to the end of a slot
    grafted: np.ndarray  # by option: area grafted
    excised: np.ndarray  # by class: area excised apart from what is grafted at once
    bed: np.ndarray  # by class: bed excised or ready, not grafted, at the end of a slot
    thin: np.ndarray  # by donor class: thin skin harvested
    medium: np.ndarray
    left_open: np.ndarray  # by class
    is_tied: np.ndarray  # by class: excised only as it is grafted
    constant: float = 0.0
    open_row: int = 0
    minutes_rows: np.ndarray = field(default_factory=lambda: np.empty(0, int))
    skin_rows: dict[Thickness, np.ndarray] = field(default_factory=dict)
    regrowth_rows: np.ndarray = field(default_factory=lambda: np.empty(0, int))  # by donor class and slot

    @property
    def options(self) -> list:
        return [option for wound in self.facts.wounds for option in wound.options]

    @property
    def usable(self) -> np.ndarray:
        """Share of each limit that a slot may use: what the margins for rounding leave."""
        shares = np.full(len(self.slots), 1 - self.choices.later_margin)
        shares[:1] = 1 - self.choices.first_margin
        return shares


def start_model(facts: Facts, slots: Slots, choices: Choices) -> Course:
    """The columns with their costs; no rule yet."""
    model, count = LinearModel(), len(slots)
    wounds, horizon = facts.wounds, facts.horizon
    eschar = np.array([facts.quantities.eschar_days(int(day)) for day in slots.first])
    eschar_left = facts.quantities.eschar_days(horizon)
    has_cover = facts.cover_stock > 0
    is_tied = np.array([w.ready == 0 and not has_cover for w in wounds], bool)
    option_class = np.array([c for c, w in enumerate(wounds) for _ in w.options], int)
    costs, limits = [], []
    for c, wound in enumerate(wounds):
        from_day = wound.graft_from if wound.ready > 0 else max(wound.graft_from, wound.excise_from)
        allowed = _days_allowed(slots, wound, from_day) & slots_chosen(wound, choices, slots)
        bed, _ = _bed_costs(facts, wound, slots)
        for option in wound.options:
            start = np.maximum(slots.first, from_day)
            cost = cost_of_placing(option, wound.weight, horizon, start) + bed
            costs.append(cost + (eschar - eschar_left if is_tied[c] and wound.unexcised > 0 else 0))
            limits.append(np.where(allowed, wound.area, 0.0))
    shape = (len(option_class), count)
    held = model.columns(count, lower=slots.least, upper=slots.most, cost=float(
        facts.quantities.preferences.value("session-weight")))
    areas = np.array([w.area for w in wounds])
    may_excise = np.array([_days_allowed(slots, w, w.excise_from) & (not tied) & (w.unexcised > 0)
                           for w, tied in zip(wounds, is_tied, strict=True)]).reshape(len(wounds), count)
    unexcised = np.array([w.unexcised for w in wounds])
    bed_limit = np.array([0.0 if tied else (w.area if has_cover else w.ready)
                          for w, tied in zip(wounds, is_tied, strict=True)])
    return Course(
        facts, slots, choices, model, option_class, np.array([o.skin for w in wounds for o in w.options]),
        held=held,
        held_up_to=model.columns(count, upper=np.cumsum(slots.most)),
        grafted=model.columns(shape, upper=np.array(limits).reshape(shape), cost=np.array(costs).reshape(shape)),
        excised=model.columns((len(wounds), count), upper=np.where(may_excise, unexcised[:, None], 0),
                              cost=eschar - eschar_left),
        bed=model.columns((len(wounds), count), upper=np.broadcast_to(bed_limit[:, None], (len(wounds), count))),
        thin=_harvest_columns(model, facts, choices, slots, _THIN),
        medium=_harvest_columns(model, facts, choices, slots, _MEDIUM),
        left_open=model.columns(len(wounds), upper=areas,
                                cost=[w.weight * horizon + choices.open_cost + _bed_costs(facts, w, slots)[1]
                                      for w in wounds]),
        is_tied=is_tied,
        constant=float((unexcised * eschar_left).sum()),
    )


def _bed_costs(facts: Facts, wound: WoundClass, slots: Slots) -> tuple[np.ndarray, float]:
    """What a bed that needs no excision costs until it is grafted in a slot, and if it is not at all.

    Where part of the wound is still to be excised, grafts on the bed cannot be told from others:
    the model charges nothing, and so never too much.
    """
    if wound.ready == 0 or wound.unexcised > _HAIR:
        return np.zeros(len(slots)), 0.0
    record = wound.wounds[0].wound
    at_slots = [facts.quantities.bed_days(record, int(day)) for day in slots.first]
    return np.array(at_slots), facts.quantities.bed_days(record, facts.horizon)


def slots_chosen(wound: WoundClass, choices: Choices, slots: Slots) -> np.ndarray:
    """Slots that the choices leave to a class."""
    chosen = np.ones(len(slots), bool)
    days = {Position.PRONE: choices.front_days, Position.SUPINE: choices.back_days}.get(wound.loaded)
    if days is not None:
        chosen &= np.isin(slots.first, sorted(days))
    for day, pose in choices.only_lying:
        chosen &= (slots.first != day) | (pose in wound.reached)
    return chosen


def _days_allowed(slots: Slots, wound: WoundClass, from_day: int) -> np.ndarray:
    """Slots in which the wound may be worked on."""
    allowed = slots.last >= from_day
    if wound.only_day is not None:
        allowed &= (slots.first <= wound.only_day) & (wound.only_day <= slots.last)
    return allowed


def _harvest_columns(model: LinearModel, facts: Facts, choices: Choices, slots: Slots,
                     thickness: Thickness) -> np.ndarray:
    is_needed = any(option.thickness is thickness for wound in facts.wounds for option in wound.options)
    areas = np.array([d.area if is_needed else 0.0 for d in facts.donors])
    cost = np.array([d.cost[thickness] for d in facts.donors])
    reached = sites_reached(facts, choices, slots)
    return model.columns(reached.shape, upper=areas[:, None] * reached,
                         cost=np.broadcast_to(cost[:, None], reached.shape))


def sites_reached(facts: Facts, choices: Choices, slots: Slots) -> np.ndarray:
    """By donor class and slot: whether the chosen positions reach it."""
    reached = np.ones((len(facts.donors), len(slots)), bool)
    for day, pose in choices.only_lying:
        reached &= (slots.first != day)[None, :] | np.array([pose in d.reached for d in facts.donors])[:, None]
    return reached


def reached_only(facts: Facts, pose: Position) -> tuple[np.ndarray, np.ndarray]:
    """By class of wounds, and of donor sites: whether it can be reached lying only so."""
    only = frozenset({pose})
    return (np.array([w.reached == only for w in facts.wounds], bool),
            np.array([d.reached == only for d in facts.donors], bool))


def session_positions(facts: Facts, slots: Slots) -> np.ndarray:
    """Most positions of a session in each slot."""
    case = facts.quantities.case
    return np.array([positions_allowed(case, int(day)) for day in slots.first])


def session_minutes(course: Course) -> np.ndarray:
    """Minutes of a session in each slot beyond its fixed part."""
    quantities = course.facts.quantities
    fixed = quantities.whole_budget.fixed_minutes
    return np.array([max(0.0, minutes_limit(quantities, int(day)) - fixed) for day in course.slots.first])


def freeze(course: Course) -> LinearProgram:
    return course.model.freeze()
