"""Blood: what a session costs, what a patient has, and what may be lost."""

from __future__ import annotations

import math


def blood_loss_ml(excised_cm2, harvested_cm2, *, excision_ml_per_cm2, harvest_ml_per_cm2):
    r"""Blood that a session costs.

    Parameters
    ----------
    excised_cm2, harvested_cm2 : numeric
        Areas of the session. [cm²]
    excision_ml_per_cm2, harvest_ml_per_cm2 : numeric
        Loss per area; the upper end of the published range for a limit. [mL/cm²]

    Returns
    -------
    numeric
        [mL]

    Notes
    -----
    .. math:: V = k_e A_e + k_h A_h

    References
    ----------
    .. [1] evidence/tables/blood_loss.csv

    Examples
    --------
    >>> blood_loss_ml(5400, 0, excision_ml_per_cm2=0.75, harvest_ml_per_cm2=0.48)
    4050.0
    """
    return excision_ml_per_cm2 * excised_cm2 + harvest_ml_per_cm2 * harvested_cm2


def blood_volume_ml(weight_kg, blood_volume_ml_per_kg):
    r"""Estimated blood volume: :math:`V = v W`. [mL]

    References
    ----------
    .. [1] evidence/tables/blood_loss.csv, ``blood-volume-per-kg``
    """
    return weight_kg * blood_volume_ml_per_kg


def allowable_blood_loss_simple_ml(volume_ml, start, lowest):
    r"""Loss until the lowest accepted value, simple form: the most cautious of the three.

    Parameters
    ----------
    volume_ml : numeric
        Estimated blood volume. [mL]
    start, lowest : numeric
        Haemoglobin [g/dL] or haematocrit [%], both the same measure.

    Returns
    -------
    numeric
        [mL]

    Raises
    ------
    ValueError
        When the start is below the lowest accepted value, or that is not positive.

    Notes
    -----
    .. math:: V_a = V (H_i - H_f) / H_i

    References
    ----------
    .. [1] planning rule session-blood; forms compared by Bourke and Smith, Anesthesiology 1974

    Examples
    --------
    >>> round(allowable_blood_loss_simple_ml(4900, 12, 8))
    1633
    """
    _refuse_unordered(start, lowest)
    return volume_ml * (start - lowest) / start


def allowable_blood_loss_gross_ml(volume_ml, start, lowest):
    r"""Loss until the lowest accepted value, by Gross; parameters as in the simple form.

    Notes
    -----
    .. math:: V_a = V (H_i - H_f) / ((H_i + H_f) / 2)
    """
    _refuse_unordered(start, lowest)
    return volume_ml * (start - lowest) / ((start + lowest) / 2)


def allowable_blood_loss_bourke_smith_ml(volume_ml, start, lowest):
    r"""Loss until the lowest accepted value, logarithmic form; parameters as in the simple form.

    Notes
    -----
    .. math:: V_a = V \ln(H_i / H_f)
    """
    _refuse_unordered(start, lowest)
    return volume_ml * math.log(start / lowest)


def _refuse_unordered(start, lowest) -> None:
    if lowest <= 0 or start < lowest:
        raise ValueError("start must not be below the lowest accepted value, and that must be positive")
