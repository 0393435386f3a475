"""Expansion: how much wound a piece of skin covers, and how much skin a wound needs.

The achieved ratio already contains the shortfall of meshing. Trimming and handling are
charged once, on the way from harvested to placed skin.
"""

from __future__ import annotations

import math


def skin_placed_cm2(harvested_cm2, handling_loss_fraction):
    r"""Skin that is left to place after trimming and handling.

    Parameters
    ----------
    harvested_cm2 : numeric
        [cm²]
    handling_loss_fraction : numeric
        Lost in trimming and handling only, never the expansion shortfall. [0-1]

    Returns
    -------
    numeric
        Skin placed. [cm²]

    Notes
    -----
    .. math:: A_p = A_h (1 - \mu)

    References
    ----------
    .. [1] evidence/tables/expansion.csv, ``handling-loss``
    """
    return harvested_cm2 * (1 - handling_loss_fraction)


def covered_area_cm2(placed_cm2, achieved_expansion_ratio, shape_factor):
    r"""Wound that placed skin covers.

    Parameters
    ----------
    placed_cm2 : numeric
        Skin placed, after trimming. [cm²]
    achieved_expansion_ratio : numeric
        Wound covered per skin, as measured, not as claimed. [-]
    shape_factor : numeric
        1 on flat ground, below 1 on concave; 1 where the ratio is a coverage rate. [0-1]

    Returns
    -------
    numeric
        Wound covered. [cm²]

    Notes
    -----
    .. math:: A_w = A_p R s

    References
    ----------
    .. [1] evidence/tables/expansion.csv
    """
    return placed_cm2 * achieved_expansion_ratio * shape_factor


def harvest_area_cm2(wound_area_cm2, achieved_expansion_ratio, shape_factor, handling_loss_fraction):
    r"""Donor skin to harvest so that the expanded graft covers the wound.

    Parameters
    ----------
    wound_area_cm2 : numeric
        Wound to cover. [cm²]
    achieved_expansion_ratio : numeric
        Wound covered per skin, as measured, not as claimed. [-]
    shape_factor : numeric
        1 on flat ground, below 1 on concave; 1 where the ratio is a coverage rate. [0-1]
    handling_loss_fraction : numeric
        Lost in trimming and handling only, never the expansion shortfall. [0-1]

    Returns
    -------
    numeric
        Skin to harvest. [cm²]

    Notes
    -----
    .. math:: A_h = A_w / (R s (1 - \mu))

    References
    ----------
    .. [1] evidence/tables/expansion.csv

    Examples
    --------
    >>> round(harvest_area_cm2(1000, 1.27, shape_factor=1.0, handling_loss_fraction=0.05))
    829
    """
    return wound_area_cm2 / (achieved_expansion_ratio * shape_factor * (1 - handling_loss_fraction))


def achieved_share(achieved_expansion_ratio, claimed_expansion_ratio):
    r"""Achieved as a share of claimed expansion: :math:`R / R_c`. [-]"""
    return achieved_expansion_ratio / claimed_expansion_ratio


def plate_area_cm2(plate_side_mm):
    r"""Area of a square plate.

    Notes
    -----
    .. math:: A = a^2 / 100

    with the side in millimetres and the area in square centimetres.
    """
    return plate_side_mm**2 / 100


def plates_count(wound_area_cm2, plate_cm2, achieved_expansion_ratio, shape_factor):
    r"""Whole plates that cover a wound with islands, rounded up.

    Parameters
    ----------
    wound_area_cm2 : numeric
        Wound to cover. [cm²]
    plate_cm2 : numeric
        Skin on one plate. [cm²]
    achieved_expansion_ratio, shape_factor : numeric
        As in ``covered_area_cm2``. [-]

    Returns
    -------
    int
        Plates, without spares.

    Notes
    -----
    .. math:: n = \lceil A_w / (A_P R s) \rceil

    References
    ----------
    .. [1] evidence/tables/site_configuration.csv, ``plate-side-mm``
    """
    return math.ceil(wound_area_cm2 / covered_area_cm2(plate_cm2, achieved_expansion_ratio, shape_factor))


def squares_of_strip_count(strip_width_mm, strip_length_mm, plate_side_mm):
    r"""Whole squares of a plate's size that a strip of skin gives.

    Notes
    -----
    .. math:: n = \lfloor w / a \rfloor \lfloor l / a \rfloor
    """
    return int(strip_width_mm // plate_side_mm) * int(strip_length_mm // plate_side_mm)


def island_pitch_mm(island_side_mm, expansion_ratio):
    r"""Distance from the middle of one island to the next on a square lattice.

    Notes
    -----
    .. math:: p = x \sqrt{R}
    """
    return island_side_mm * math.sqrt(expansion_ratio)


def lin_longest_gap_mm(island_side_mm, expansion_ratio, *, square_root_factor, constant):
    r"""Longest distance between islands by Lin.

    Parameters
    ----------
    island_side_mm : numeric
        [mm]
    expansion_ratio : numeric
        Wound per skin. [-]
    square_root_factor, constant : numeric
        Coefficients as published. [-]

    Returns
    -------
    numeric
        Gap that has to close. [mm]

    Notes
    -----
    .. math:: L = x (a \sqrt{R} - b)

    References
    ----------
    .. [1] evidence/tables/expansion.csv, source ``lin-1994``
    """
    return island_side_mm * (square_root_factor * math.sqrt(expansion_ratio) - constant)


def lin_widest_expansion_ratio(island_side_mm, longest_gap_mm, *, square_root_factor, constant):
    r"""Widest expansion whose gap by Lin stays within a limit: ``lin_longest_gap_mm`` solved for it.

    Notes
    -----
    .. math:: R = ((L / x + b) / a)^2
    """
    return ((longest_gap_mm / island_side_mm + constant) / square_root_factor) ** 2
