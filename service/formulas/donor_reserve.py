"""Donor reserve: how much skin a body can give, and what one harvest can close."""

from __future__ import annotations

from decimal import Decimal

from service.domain.body_region import Place


def potential_donor_percent(place_percent: dict[Place, Decimal]) -> Decimal:
    """Skin that an unburned body could give: every place whose region gives skin.

    Parameters
    ----------
    place_percent : dict
        Share of body surface by place. [%]

    Returns
    -------
    Decimal
        [% of body surface]
    """
    return sum(
        (percent for place, percent in place_percent.items() if place.facts.gives_skin), Decimal(0)
    )


def donor_area_cm2(place_area_cm2, burned_fraction, not_harvestable_fraction, usable_fraction):
    r"""Skin of a place that may be harvested.

    Parameters
    ----------
    place_area_cm2 : numeric
        [cm²]
    burned_fraction : numeric
        Share of the place that is burned. [0-1]
    not_harvestable_fraction : numeric
        Share of what is left over joints, scars, tattoos, lines. [0-1]
    usable_fraction : numeric
        Share of the rest that strips really reach. [0-1]

    Returns
    -------
    numeric
        [cm²], never below zero.

    Notes
    -----
    .. math:: D = A (1 - b) (1 - h) u

    References
    ----------
    .. [1] evidence/tables/donor_reserve.csv
    """
    left = max(1 - burned_fraction, 0)
    return place_area_cm2 * left * (1 - not_harvestable_fraction) * usable_fraction


def single_harvest_limit_percent_tbsa(never_donor_percent, achieved_expansion_ratio):
    r"""Largest burn that one harvest of everything closes, the never-donor regions being unburned.

    Parameters
    ----------
    never_donor_percent : numeric
        Body surface that is never harvested. [%]
    achieved_expansion_ratio : numeric
        Wound covered per skin. [-]

    Returns
    -------
    numeric
        [%TBSA]

    Notes
    -----
    .. math:: B = (100 - U) R / (1 + R)

    References
    ----------
    .. [1] evidence/tables/donor_reserve.csv, source ``den-hollander-2020``

    Examples
    --------
    >>> single_harvest_limit_percent_tbsa(20, 1)
    40.0
    """
    return (100 - never_donor_percent) * achieved_expansion_ratio / (1 + achieved_expansion_ratio)


def proportional_harvest_limit_percent_tbsa(never_donor_percent, achieved_expansion_ratio):
    r"""The same limit when the never-donor regions are burned in proportion.

    Notes
    -----
    .. math:: B = (100 - U) R / (1 + R (100 - U) / 100)
    """
    donors_percent = 100 - never_donor_percent
    return donors_percent * achieved_expansion_ratio / (1 + achieved_expansion_ratio * donors_percent / 100)
