"""Fluid resuscitation, for a labelled cross-check only: nothing here is an order."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FluidRates:
    """Rate until the end of the first half and after it, and whether more than half was given."""

    first_ml_per_hour: float
    then_ml_per_hour: float
    is_over_half_given: bool


def day_volume_ml(weight_kg, burn_percent_tbsa, ml_per_kg_percent):
    r"""Volume of the first day, from the time of injury.

    Parameters
    ----------
    weight_kg : numeric
        [kg]
    burn_percent_tbsa : numeric
        All depths but erythema, as a number of per cent: 40, not 0.40. [%TBSA]
    ml_per_kg_percent : numeric
        [mL per kg per %TBSA]

    Returns
    -------
    numeric
        [mL]

    Raises
    ------
    ValueError
        For a negative number, a share above 100, or a share that looks like a fraction.

    Notes
    -----
    .. math:: V = k W B

    References
    ----------
    .. [1] evidence/tables/fluids.csv

    Examples
    --------
    >>> day_volume_ml(24, 50, 3)
    3600
    """
    _refuse_negative(weight_kg, burn_percent_tbsa, ml_per_kg_percent)
    if 0 < burn_percent_tbsa < 1 or burn_percent_tbsa > 100:
        raise ValueError("burn size is a number of per cent")
    return ml_per_kg_percent * weight_kg * burn_percent_tbsa


def day_volume_band_ml(weight_kg, burn_percent_tbsa, ml_per_kg_percent_band):
    """The volume for each figure of a band, in its order: one number would say too much. [mL]"""
    return tuple(day_volume_ml(weight_kg, burn_percent_tbsa, k) for k in ml_per_kg_percent_band)


def fluid_rates(volume_ml, *, hours_since_injury, given_ml, first_half_hours, whole_hours) -> FluidRates:
    r"""Rates that give half the volume by the end of the first hours, the clock starting at injury.

    Parameters
    ----------
    volume_ml : numeric
        Of the first day. [mL]
    hours_since_injury : numeric
        [h]
    given_ml : numeric
        Already given since the injury. [mL]
    first_half_hours, whole_hours : numeric
        Ends of the first half and of the day. [h]

    Returns
    -------
    FluidRates
        Never negative; says when more than half was already given. [mL/h]

    Raises
    ------
    ValueError
        For a negative number, or once the day is over.

    Notes
    -----
    .. math:: r_1 = (V/2 - G) / (t_1 - t), \quad r_2 = (V/2) / (t_2 - t_1)

    After the first hours the rest is spread over what is left of the day.
    """
    _refuse_negative(volume_ml, hours_since_injury, given_ml)
    if hours_since_injury >= whole_hours:
        raise ValueError("the first day is over")
    half = volume_ml / 2
    if hours_since_injury >= first_half_hours:
        rest = max(volume_ml - given_ml, 0) / (whole_hours - hours_since_injury)
        return FluidRates(rest, rest, given_ml > half)
    first = max(half - given_ml, 0) / (first_half_hours - hours_since_injury)
    then = (volume_ml - max(half, min(given_ml, volume_ml))) / (whole_hours - first_half_hours)
    return FluidRates(first, then, given_ml > half)


def maintenance_ml_per_hour(weight_kg, *, step_kg, first_ml_per_kg, next_ml_per_kg, rest_ml_per_kg):
    r"""Maintenance of a child: one rate for the first kilograms, less for the next, least for the rest.

    Parameters
    ----------
    weight_kg : numeric
        [kg]
    step_kg : numeric
        Width of the first two steps. [kg]
    first_ml_per_kg, next_ml_per_kg, rest_ml_per_kg : numeric
        [mL/kg/h]

    Returns
    -------
    numeric
        [mL/h]

    References
    ----------
    .. [1] evidence/tables/fluids.csv, ``maintenance-per-kg-hour``
    """
    _refuse_negative(weight_kg)
    first = min(weight_kg, step_kg)
    following = min(max(weight_kg - step_kg, 0), step_kg)
    rest = max(weight_kg - 2 * step_kg, 0)
    return first * first_ml_per_kg + following * next_ml_per_kg + rest * rest_ml_per_kg


def rule_of_ten_ml_per_hour(
    burn_percent_tbsa,
    weight_kg,
    *,
    is_adult: bool,
    percent_step,
    ml_per_hour_per_percent,
    lowest_weight_kg,
    heavy_weight_kg,
    heavy_step_kg,
    heavy_step_ml_per_hour,
):
    r"""First rate of an adult by the rule of ten, burn size rounded to the nearest ten.

    Parameters
    ----------
    burn_percent_tbsa : numeric
        [%TBSA]
    weight_kg : numeric
        [kg]
    is_adult : bool
        The rule holds for adults only.
    percent_step, ml_per_hour_per_percent, lowest_weight_kg, heavy_weight_kg, heavy_step_kg,
    heavy_step_ml_per_hour : numeric
        Coefficients as published. [%TBSA], [mL/h], [kg], [kg], [kg], [mL/h]

    Returns
    -------
    numeric
        [mL/h]

    Raises
    ------
    ValueError
        For a child, or below the lowest weight of the rule.

    References
    ----------
    .. [1] evidence/tables/fluids.csv, source ``chung-2010``
    """
    _refuse_negative(burn_percent_tbsa)
    if not is_adult or weight_kg < lowest_weight_kg:
        raise ValueError("the rule of ten is for adults from its lowest weight on")
    rounded_percent = (burn_percent_tbsa + percent_step / 2) // percent_step * percent_step
    heavy_steps = max(weight_kg - heavy_weight_kg, 0) // heavy_step_kg
    return rounded_percent * ml_per_hour_per_percent + heavy_steps * heavy_step_ml_per_hour


def _refuse_negative(*numbers) -> None:
    if any(number < 0 for number in numbers):
        raise ValueError("a weight, share, volume or time is negative")
