"""Body surface area from weight and height, by the published formulas.

Each formula carries the name of its authors and takes its coefficients as arguments;
``by_formula`` fills them in from the evidence tables.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from service.evidence.library import Evidence


def mosteller(height_cm, weight_kg, *, divisor):
    r"""Body surface by Mosteller.

    Parameters
    ----------
    height_cm, weight_kg : numeric
        Height [cm] and weight [kg].
    divisor : numeric
        [cm·kg/m⁴]

    Returns
    -------
    numeric
        Body surface. [m²]

    Notes
    -----
    .. math:: S = \sqrt{H W / d}

    References
    ----------
    .. [1] evidence/tables/body_surface_area.csv, source ``mosteller-1987``

    Examples
    --------
    >>> mosteller(180, 80, divisor=3600)
    2.0
    """
    return math.sqrt(height_cm * weight_kg / divisor)


def power_law(height_cm, weight_kg, *, factor, height_exponent, weight_exponent):
    r"""Body surface as a product of powers, the shape of most published formulas.

    Parameters
    ----------
    height_cm, weight_kg : numeric
        Height [cm] and weight [kg].
    factor, height_exponent, weight_exponent : numeric
        Coefficients as published. [-]

    Returns
    -------
    numeric
        Body surface. [m²]

    Notes
    -----
    .. math:: S = c H^a W^b

    References
    ----------
    .. [1] evidence/tables/body_surface_area.csv
    """
    return factor * height_cm**height_exponent * weight_kg**weight_exponent


#: One shape, published by different authors with different coefficients.
du_bois = haycock = gehan_george = fujimoto = power_law


def boyd(height_cm, weight_g, *, factor, height_exponent, weight_exponent, weight_exponent_slope):
    r"""Body surface by Boyd, whose weight is in **grams**.

    Parameters
    ----------
    height_cm, weight_g : numeric
        Height [cm] and weight [g].
    factor, height_exponent, weight_exponent, weight_exponent_slope : numeric
        Coefficients as published. [-]

    Returns
    -------
    numeric
        Body surface. [m²]

    Notes
    -----
    .. math:: S = c H^a W^{b - k \log_{10} W}

    References
    ----------
    .. [1] evidence/tables/body_surface_area.csv, source ``boyd-1935``
    """
    falling_exponent = weight_exponent - weight_exponent_slope * math.log10(weight_g)
    return factor * height_cm**height_exponent * weight_g**falling_exponent


def livingston_lee(weight_kg, *, factor, weight_exponent):
    r"""Body surface by Livingston and Lee, from weight alone.

    Parameters
    ----------
    weight_kg : numeric
        [kg]
    factor, weight_exponent : numeric
        Of the form for the weight: the published forms below and from 10 kg do not meet. [-]

    Returns
    -------
    numeric
        Body surface. [m²]

    Notes
    -----
    .. math:: S = c W^b

    References
    ----------
    .. [1] evidence/tables/body_surface_area.csv, source ``livingston-lee-2001``
    """
    return factor * weight_kg**weight_exponent


def _coefficients(evidence: Evidence, formula: str, *names: str) -> dict[str, float]:
    return {
        name.replace("-", "_"): float(evidence.value(f"body-surface-{formula}", name)) for name in names
    }


def _by_mosteller(evidence: Evidence, height_cm: float, weight_kg: float) -> float:
    return mosteller(height_cm, weight_kg, **_coefficients(evidence, "mosteller", "divisor"))


def _by_power_law(formula: str) -> Callable[[Evidence, float, float], float]:
    def surface_m2(evidence: Evidence, height_cm: float, weight_kg: float) -> float:
        names = ("factor", "height-exponent", "weight-exponent")
        return power_law(height_cm, weight_kg, **_coefficients(evidence, formula, *names))

    return surface_m2


def _by_boyd(evidence: Evidence, height_cm: float, weight_kg: float) -> float:
    names = ("factor", "height-exponent", "weight-exponent", "weight-exponent-slope")
    grams = weight_kg * float(evidence.value("body-surface-boyd", "grams-per-kg"))
    return boyd(height_cm, grams, **_coefficients(evidence, "boyd", *names))


def _by_livingston_lee(evidence: Evidence, height_cm: float, weight_kg: float) -> float:
    is_light = weight_kg < evidence.value("body-surface-livingston-lee", "from-weight-kg")
    form = "livingston-lee-light" if is_light else "livingston-lee"
    return livingston_lee(weight_kg, **_coefficients(evidence, form, "factor", "weight-exponent"))


FORMULAS: dict[str, Callable[[Evidence, float, float], float]] = {
    "mosteller": _by_mosteller,
    "du-bois": _by_power_law("du-bois"),
    "haycock": _by_power_law("haycock"),
    "gehan-george": _by_power_law("gehan-george"),
    "boyd": _by_boyd,
    "fujimoto": _by_power_law("fujimoto"),
    "livingston-lee": _by_livingston_lee,
}


def by_formula(evidence: Evidence, formula: str, height_cm: float, weight_kg: float) -> float:
    """Body surface by a named formula with its published coefficients.

    Parameters
    ----------
    evidence : Evidence
        Rows ``body-surface-…`` and the span of heights and weights that can be a person's.
    formula : str
        A key of ``FORMULAS``.
    height_cm, weight_kg : float
        Height [cm] and weight [kg].

    Returns
    -------
    float
        Body surface. [m²]

    Raises
    ------
    ValueError
        For a height or weight that cannot be in the unit asked for, as metres for centimetres.
    KeyError
        For an unknown formula.
    """
    for name, number in (("height-cm", height_cm), ("weight-kg", weight_kg)):
        span = evidence.row("human-span", name)
        if not span.low <= number <= span.high:
            raise ValueError(f"{name} is not in the unit asked for")
    return FORMULAS[formula](evidence, height_cm, weight_kg)


def body_surface_m2(evidence: Evidence, height_cm: float, weight_kg: float, *, is_adult: bool) -> float:
    """Body surface by the formula that suits the age: Mosteller for adults, Haycock for children. [m²]"""
    return by_formula(evidence, "mosteller" if is_adult else "haycock", height_cm, weight_kg)
