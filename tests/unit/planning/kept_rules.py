"""What each rule of a course asks for, in words of the clinic, of a model that has been solved."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.domain.body_region import Position, Region
from service.domain.graft import Thickness
from service.planning.chosen_days import DaysSolved
from service.planning.course_model import Facts, Slots
from service.planning.quantities import PlanningQuantities
from service.planning.session_budget import minutes_limit

HAIR = 1e-4


@dataclass(frozen=True)
class Done:
    """A solved course in words of the clinic: areas in %TBSA by class of wounds, or of donor sites, and session."""

    solved: DaysSolved
    open_at_most: float | None  # area that may be left open, if that was limited

    @property
    def facts(self) -> Facts:
        return self.solved.course.facts

    @property
    def quantities(self) -> PlanningQuantities:
        return self.facts.quantities

    @property
    def slots(self) -> Slots:
        return self.solved.course.slots

    @property
    def areas(self) -> np.ndarray:
        return np.array([w.area for w in self.facts.wounds])

    @property
    def ready(self) -> np.ndarray:
        return np.array([w.ready for w in self.facts.wounds])

    @cached_property
    def held(self) -> np.ndarray:
        """Sessions held; parts of one where slots are of several days."""
        return self.solved.amount(self.solved.course.held)

    @cached_property
    def allowed(self) -> np.ndarray:
        """Sessions held, less the share of their limits that is left free for rounding."""
        choices, later = self.solved.course.choices, np.arange(len(self.slots)) > 0
        return self.held * (1 - np.where(later, choices.later_margin, choices.first_margin))

    @cached_property
    def by_option(self) -> np.ndarray:
        return self.solved.amount(self.solved.course.grafted)

    @cached_property
    def grafted(self) -> np.ndarray:
        return self.of_options(np.ones(len(self.by_option)))

    @cached_property
    def excised(self) -> np.ndarray:
        """Where no bed was ready and none can be kept under cover, grafting excises the same area."""
        at_once = (self.ready == 0) & (self.facts.cover_stock == 0)
        return self.solved.amount(self.solved.course.excised) + self.grafted * at_once[:, None]

    @cached_property
    def harvested(self) -> dict[Thickness, np.ndarray]:
        course = self.solved.course
        return {Thickness.THIN: self.solved.amount(course.thin), Thickness.MEDIUM: self.solved.amount(course.medium)}

    @cached_property
    def taken(self) -> np.ndarray:
        return sum(self.harvested.values())

    @cached_property
    def left_open(self) -> np.ndarray:
        return self.solved.amount(self.solved.course.left_open)

    @cached_property
    def bed(self) -> np.ndarray:
        """Bed without a graft after each session: ready at first or excised since, and not grafted."""
        return self.ready[:, None] + np.cumsum(self.excised - self.grafted, axis=1)

    @cached_property
    def newly_open(self) -> np.ndarray:
        """By session: bed excised and not grafted since, which lies under cover until the next."""
        before, found = np.array([w.newly_open for w in self.facts.wounds]), []
        for excised, grafted in zip(self.excised.T, self.grafted.T, strict=True):
            before = np.maximum(0, before + excised - grafted)
            found.append(before.sum())
        return np.array(found)

    @cached_property
    def lost(self) -> np.ndarray:
        """Expected loss of grafts on regions whose losses need skin, by class and session."""
        is_reserved = np.array([w.is_reserved for w in self.facts.wounds])
        return is_reserved[:, None] * self.of_options(np.array([1 - o.take for o in self.solved.course.options]))

    @cached_property
    def charged_beside(self) -> float:
        """What costs beside sessions, grafts, excision, harvests and open area. [%TBSA-days]"""
        course, program = self.solved.course, self.solved.program
        named = np.concatenate([c[c >= 0].ravel() for c in (
            course.held, course.grafted, course.excised, course.thin, course.medium, course.left_open)])
        return float(program.cost @ self.solved.values - program.cost[named] @ self.solved.values[named])

    def of_options(self, factors: np.ndarray) -> np.ndarray:
        """Area grafted times a factor of each option, by class and session."""
        sums = np.zeros((len(self.facts.wounds), len(self.slots)))
        np.add.at(sums, self.solved.course.option_class, self.by_option * factors[:, None])
        return sums

    def skin(self, is_meant) -> np.ndarray:
        """Skin to harvest for grafts that are meant, by session."""
        quantities, skin = self.quantities, np.zeros(len(self.slots))
        options = ((w, o) for w in self.facts.wounds for o in w.options)
        for (wound, option), area in zip(options, self.by_option, strict=True):
            if is_meant(wound, option):
                covered = quantities.coverage(option.method, wound.wounds[0].place) * quantities.kept_fraction
                skin += area / float(covered)
        return skin


# -- what each rule asks for


def places_each_wound_once(done: Done) -> bool:
    return np.allclose(done.grafted.sum(axis=1) + done.left_open, done.areas, atol=HAIR)


def counts_sessions(done: Done) -> bool:
    return np.allclose(done.solved.amount(done.solved.course.held_up_to), np.cumsum(done.held), atol=HAIR)


def grafts_only_in_sessions(done: Done) -> bool:
    """A part of a session holds no more than that part of a wound."""
    return (done.grafted <= done.areas[:, None] * done.held + HAIR).all()


def keeps_grafted_area(done: Done) -> bool:
    limit = float(done.quantities.case.limits.grafted_cm2) * 10 / done.facts.percent
    return (done.grafted.sum(axis=0) <= limit * done.allowed + HAIR).all()


def keeps_excised_area(done: Done) -> bool:
    limit = float(done.quantities.case.limits.excised_cm2) * 10 / done.facts.percent
    return (done.excised.sum(axis=0) <= limit * done.allowed + HAIR).all()


def keeps_blood(done: Done) -> bool:
    """Millilitres lost by excision and harvest, at the cautious end."""
    quantities = done.quantities
    excision = np.array([float(quantities.excision_ml(w.wounds[0].place)) for w in done.facts.wounds])
    lost = done.facts.percent * (excision @ done.excised + float(quantities.blood.harvest_ml) * done.taken.sum(axis=0))
    return (lost <= float(quantities.case.limits.blood_ml) * (done.allowed + HAIR)).all()


def keeps_minutes(done: Done) -> bool:
    """What is excised and grafted in one session counts once; part of a special area takes part of its minutes."""
    quantities = done.quantities
    limits = np.array([minutes_limit(quantities, int(day)) for day in done.slots.first])
    beyond_fixed = np.maximum(0, limits - float(quantities.minutes.fixed))
    operated = np.maximum(done.grafted, done.excised).sum(axis=0)
    special = sum((done.grafted[c] / w.special_area for c, w in enumerate(done.facts.wounds)
                   if w.special_area is not None), np.zeros(len(done.slots)))
    used = float(quantities.minutes.per_percent) * operated + float(quantities.minutes.special_area) * special
    return (used <= beyond_fixed * done.allowed + HAIR).all()


def has_skin_of_each_thickness(done: Done) -> bool:
    return all((done.skin(lambda _, option, cut=cut: option.thickness is cut) <= harvested.sum(axis=0) + HAIR).all()
               for cut, harvested in done.harvested.items())


def has_skin_from_above_for_the_face(done: Done) -> bool:
    """Medium skin from above the clavicle, where that could cover the face."""
    if not done.quantities.face_needs_skin_from_above:
        return True
    above = np.array([d.above_clavicle for d in done.facts.donors])
    face = done.skin(lambda wound, _: wound.wounds[0].place.region is Region.FACE)
    return (face <= done.harvested[Thickness.MEDIUM][above].sum(axis=0) + HAIR).all()


def harvests_what_has_healed(done: Done) -> bool:
    """Skin that has not healed, and what is harvested now, lie beside each other on a site."""
    slots, first_session = done.slots, done.facts.first_session_day
    for d, donor in enumerate(done.facts.donors):
        for t, day in enumerate(slots.last):
            healing = sum(area[d, s] for cut, area in done.harvested.items() for s in range(t + 1)
                          if slots.first[s] + donor.healing[cut] > day)
            is_known = [recorded or day > first_session for _, _, recorded in donor.supply]
            free = sum(area for (area, free_day, _), known in zip(donor.supply, is_known, strict=True)
                       if known and free_day <= day)
            if healing > free * (1 - done.solved.course.choices.first_margin) + HAIR:
                return False
    return True


def harvests_no_more_often_than_allowed(done: Done) -> bool:
    allowed = [sum(p.area_cm2 * max(0, s.harvests_allowed - p.harvest_count) for s in d.sites for p in s.parcels)
               for d in done.facts.donors]
    return (done.taken.sum(axis=1) <= np.array(allowed, float) * 10 / done.facts.percent + HAIR).all()


def grafts_on_ready_bed(done: Done) -> bool:
    return (done.bed >= -HAIR).all()


def excises_each_wound_once(done: Done) -> bool:
    return (done.excised.sum(axis=1) <= done.areas - done.ready + HAIR).all()


def covers_from_stock(done: Done) -> bool:
    overlay = done.by_option[np.array([o.needs_overlay for o in done.solved.course.options], bool)].sum()
    return _least_cover(done) + overlay <= done.facts.cover_stock + HAIR


def _least_cover(done: Done) -> float:
    """Cover serves as long as it lives: what lies open further apart in time needs cover of its own."""
    slots, next_day = done.slots, [*done.slots.first[1:], done.facts.horizon]
    most: list[float] = []  # laid for sessions up to each
    for t, area in enumerate(done.newly_open):
        ended = [s for s in range(t) if slots.last[s] + done.quantities.cover_life_days < next_day[t] - 1]
        most.append(area + max((most[s] for s in ended), default=0.0))
    return max(most)


def excises_what_it_grafts(done: Done) -> bool:
    """Without cover in stock nothing is excised ahead."""
    return done.facts.cover_stock > 0 or (done.excised <= done.grafted + HAIR).all()


def charges_what_is_due(done: Done) -> bool:
    """Donor wounds harvested again, losses that find no skin any more, and days of cover."""
    due = _dearer_second_harvests(done) + _losses_without_skin(done) + _days_of_cover(done)
    return done.charged_beside >= due - HAIR


def _dearer_second_harvests(done: Done) -> float:
    """Beyond the skin that was never harvested a donor wound stays open longer."""
    fresh = np.array([d.fresh for d in done.facts.donors])
    dearer = np.array([d.repeat_cost for d in done.facts.donors])
    return (np.maximum(0, done.taken.sum(axis=1) - fresh) * dearer).sum()


def _losses_without_skin(done: Done) -> float:
    """Open to the horizon instead of regrafted, at the least that any of them costs; a bound asks for less."""
    level, facts, quantities = done.solved.course.choices.regraft_level, done.facts, done.quantities
    reserved = [c for c, w in enumerate(facts.wounds) if w.is_reserved]
    if level is None or not reserved:
        return 0.0
    needs = {c: facts.wounds[c].wounds[0].at_level(level).harvest_per_area for c in reserved}
    skin_left = sum(d.harvests for d in facts.donors) - done.taken.sum()
    short = sum(needs[c] * done.lost[c].sum() for c in reserved) - skin_left
    longer = min(facts.wounds[c].weight * (facts.horizon - quantities.regraft_closure_day(int(day), o.method))
                 for c in reserved for o in facts.wounds[c].options for day in done.slots.first)
    return max(0, short) / min(needs.values()) * longer


def _days_of_cover(done: Done) -> float:
    """Cover that is laid costs to the end of its life, or of the plan."""
    life = done.quantities.cover_life_days
    days = np.minimum(life, done.facts.horizon - done.slots.last)[done.newly_open > HAIR].min(initial=life)
    return float(done.quantities.preferences.value("cover-weight")) * days * _least_cover(done)


def rests(done: Done) -> bool:
    """At most one session in days that lie nearer together than the rest."""
    slots, rest = done.slots, done.quantities.case.limits.rest_days
    return all(done.held[t:][slots.last[t:] - first < rest].sum() <= max(1, slots.most[t]) + HAIR
               for t, first in enumerate(slots.first))


def lies_one_way(done: Done) -> bool:
    """In a session of one position, what is reached only supine and only prone share the session between them."""
    case, facts = done.quantities.case, done.facts
    positions = {t.day: t.positions for t in case.request.theatre_days if t.positions is not None}
    most_grafts = float(case.limits.grafted_cm2) * 10 / facts.percent
    most_skin = sum(d.area for d in facts.donors)
    for t, day in enumerate(done.slots.first):
        if min(case.limits.positions, positions.get(case.date_of(int(day)), case.limits.positions)) > 1:
            continue
        shares = 0.0
        for pose in Position:
            grafts = sum(done.grafted[c, t] for c, w in enumerate(facts.wounds) if w.reached == {pose})
            skin = sum(done.taken[d, t] for d, site in enumerate(facts.donors) if site.reached == {pose})
            shares += max(grafts / most_grafts, skin / most_skin if skin else 0)
        if shares > done.held[t] + HAIR:
            return False
    return True


def leaves_open_at_most(done: Done) -> bool:
    return done.open_at_most is None or done.left_open.sum() <= done.open_at_most + HAIR
