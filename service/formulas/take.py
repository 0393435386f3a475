"""Take: the fraction of placed graft that survives, and what comes back as open wound."""

from __future__ import annotations


def expected_take_fraction(take_fraction, bed_multiplier):
    r"""Take expected on a bed that is not at its best.

    Parameters
    ----------
    take_fraction : numeric
        Of the method on a good bed. [0-1]
    bed_multiplier : numeric
        1 on a good bed, less on a colonised one. [0-1]

    Returns
    -------
    numeric
        [0-1]

    Notes
    -----
    .. math:: \tau = \tau_0 m

    References
    ----------
    .. [1] evidence/tables/take.csv
    """
    return take_fraction * bed_multiplier


def lost_area_cm2(grafted_cm2, take_fraction):
    r"""Grafted wound that is open again once the take is read.

    Parameters
    ----------
    grafted_cm2 : numeric
        Wound grafted. [cm²]
    take_fraction : numeric
        Expected or read. [0-1]

    Returns
    -------
    numeric
        [cm²]

    Notes
    -----
    .. math:: A_l = A (1 - \tau)

    Examples
    --------
    >>> lost_area_cm2(200, 0.75)
    50.0
    """
    return grafted_cm2 * (1 - take_fraction)
