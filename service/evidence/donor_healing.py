"""How long a donor site needs before it can be harvested again."""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal

from service.domain.body_region import Place, Region
from service.domain.case import SkinLimitAge
from service.domain.graft import Thickness
from service.evidence.library import Evidence

_AGE_OF_BAND = {
    SkinLimitAge.INFANT: "child",
    SkinLimitAge.SMALL_CHILD: "child",
    SkinLimitAge.CHILD: "child",
    SkinLimitAge.ADULT: "adult",
    SkinLimitAge.OLD: "old",
}


def healing_row(place: Place, thickness: Thickness, age_band: SkinLimitAge) -> str:
    """What a row of ``donor-healing-days`` applies to: ``thigh-thin-adult``."""
    site = {Region.SCALP: "scalp", Region.THIGH: "thigh"}.get(place.region, "body")
    return f"{site}-{thickness}-{_AGE_OF_BAND[age_band]}"


def repeat_row(place: Place, age_band: SkinLimitAge) -> str:
    """What a row of ``donor-healing-repeat-factor`` applies to; a child's scalp has its own."""
    if place.region is not Region.SCALP:
        return "body"
    return "scalp-child" if _AGE_OF_BAND[age_band] == "child" else "scalp"


def healing_sources(
    place: Place, thickness: Thickness, age_band: SkinLimitAge, harvest_number: int
) -> tuple[str, ...]:
    """Ids of the rows that :func:`healing_days` reads; a first harvest needs no factor."""
    first = f"donor-healing-days/{healing_row(place, thickness, age_band)}"
    return (first,) if harvest_number == 1 else (first, f"donor-healing-repeat-factor/{repeat_row(place, age_band)}")


def healing_days(
    evidence: Evidence,
    place: Place,
    thickness: Thickness,
    age_band: SkinLimitAge,
    harvest_number: int,
    probability: Decimal,
) -> int:
    """Days from a harvest until the site is expected to have healed.

    Parameters
    ----------
    evidence : Evidence
        Rows ``donor-healing-days`` and ``donor-healing-repeat-factor``.
    place, thickness, age_band
        Site, skin class and age that choose the row.
    harvest_number : int
        Which harvest of that skin left the wound: 1 for the first.
    probability : Decimal
        Share of sites healed by then. [0-1]

    Returns
    -------
    int
        Whole days, rounded up. [d]

    Notes
    -----
    .. math:: days = Q_p f^{n-1}

    with the quantile :math:`Q_p` of a first harvest and the factor :math:`f` of each further one.

    References
    ----------
    .. [1] evidence/tables/donor_healing.csv
    """
    if harvest_number < 1:
        raise ValueError("harvest number below 1")
    first = evidence.quantile("donor-healing-days", healing_row(place, thickness, age_band), probability)
    factor = evidence.value("donor-healing-repeat-factor", repeat_row(place, age_band))
    return int((first * factor ** (harvest_number - 1)).to_integral_value(ROUND_CEILING))
