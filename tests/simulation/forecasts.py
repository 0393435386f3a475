"""A forecast made by hand: each test says only what it is about."""

from __future__ import annotations

from decimal import Decimal

from service.domain.forecast import CourseForecast, SessionForecast, Spread


def spread(low, median, high) -> Spread:
    return Spread(*(None if value is None else Decimal(value) for value in (low, median, high)))


def session_forecast(**changes) -> SessionForecast:
    fields = {
        "ordinal": 1, "harvest_cm2": Decimal("400.0"), "needed": spread(330, 380, 450),
        "covers_fraction": Decimal("0.70"), "harvest_for_wanted_cm2": Decimal(450), "too_much_cm2": Decimal(40),
        "too_little_cm2": Decimal(25), "by_site": (), "by_graft": (), "day": spread(1, 1, 1)}
    return SessionForecast(**{**fields, **changes})


def course_forecast(**changes) -> CourseForecast:
    fields = {
        "courses_count": 1000, "seed": 1, "interval_share": Decimal("0.80"), "wanted_fraction": Decimal("0.90"),
        "sessions": spread(2, 2, 3), "closure_day": spread(20, 24, 31), "closed_fraction": Decimal("0.97"),
        "failed_cm2": spread(20, 70, 190), "cover_days": spread(0, 0, 0), "cover_lapse_fraction": Decimal(0),
        "further_fractions": (Decimal("0.31"), Decimal("0.02")), "session_forecasts": (session_forecast(),)}
    return CourseForecast(**{**fields, **changes})
