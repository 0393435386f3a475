"""What is likely to become of a plan: low, median and high over simulated courses."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from service.domain.graft import GraftMethod, SkinClass, Thickness

if TYPE_CHECKING:
    from service.domain.alternative import FirstSession


@dataclass(frozen=True)
class Spread:
    """Low, median and high of a quantity; between low and high lies the interval's share of the courses.

    Only a day can be ``None``: in so many courses it does not come within the horizon.
    """

    low: Decimal | None
    median: Decimal | None
    high: Decimal | None


@dataclass(frozen=True)
class SiteForecast:
    """Skin that a session needs from one site at one thickness, harvested. [cm²]"""

    site_id: str
    thickness: Thickness
    needed: Spread


@dataclass(frozen=True)
class GraftForecast:
    """Skin that a graft needs, placed, and plates for islands, in parts. [cm², count]"""

    wound_id: str
    method: GraftMethod
    skin_class: SkinClass
    skin: Spread
    plates: Spread | None


@dataclass(frozen=True)
class SessionForecast:
    """One firm session over the simulated courses. Areas in cm² of skin harvested, fractions 0-1.

    ``covers_fraction``: the planned harvest covers what is planned. ``harvest_for_wanted_cm2``: the
    harvest that covers it in the wanted fraction of courses. ``too_much_cm2`` and ``too_little_cm2``: skin
    left over where there is some, and missing where it falls short, in a middling such course.
    """

    ordinal: int
    harvest_cm2: Decimal
    needed: Spread
    covers_fraction: Decimal
    harvest_for_wanted_cm2: Decimal
    too_much_cm2: Decimal
    too_little_cm2: Decimal
    by_site: tuple[SiteForecast, ...]
    by_graft: tuple[GraftForecast, ...]
    day: Spread  # days from the as-of day


@dataclass(frozen=True)
class ParameterEffect:
    """A number of the evidence which, held at an end of its range, would change the first session."""

    row_id: str
    value: Decimal
    usual_value: Decimal
    unit: str
    first: FirstSession


@dataclass(frozen=True)
class ParameterSensitivity:
    """Rows tried, the first session as planned by the rule of thumb, and the effects found."""

    row_ids: tuple[str, ...]
    usual: FirstSession | None
    effects: tuple[ParameterEffect, ...]


@dataclass(frozen=True)
class CourseForecast:
    """The whole course. Days from the as-of day, areas in cm², fractions 0-1.

    ``further_fractions``: that a first, second ... session beyond the firm ones is held.
    """

    courses_count: int
    seed: int
    interval_share: Decimal
    wanted_fraction: Decimal
    sessions: Spread
    closure_day: Spread
    closed_fraction: Decimal
    failed_cm2: Spread
    cover_days: Spread
    cover_lapse_fraction: Decimal
    further_fractions: tuple[Decimal, ...]
    session_forecasts: tuple[SessionForecast, ...]
    bottleneck_site_id: str | None = None
    bottleneck_fraction: Decimal = Decimal(0)

    def of_session(self, ordinal: int) -> SessionForecast | None:
        return next((s for s in self.session_forecasts if s.ordinal == ordinal), None)
