"""Re-epithelialisation: how long the gaps of a graft that has taken need to close."""

from __future__ import annotations


def island_closure_days(longest_gap_mm, lag_days, edge_speed_mm_per_day):
    r"""Days from placement until the gaps between islands have closed.

    Parameters
    ----------
    longest_gap_mm : numeric
        Gap between islands; it closes from both edges. [mm]
    lag_days : numeric
        Days before the edges begin to move. [d]
    edge_speed_mm_per_day : numeric
        Advance of one edge. [mm/d]

    Returns
    -------
    numeric
        [d]

    Notes
    -----
    .. math:: T = t_0 + (L / 2) / v

    Lag and speed are calibrated on published closure times, not measured.

    References
    ----------
    .. [1] evidence/tables/re_epithelialisation.csv, ``epithelial-lag``, ``epithelial-edge-speed``

    Examples
    --------
    >>> round(island_closure_days(4.8, lag_days=7, edge_speed_mm_per_day=0.16), 1)
    22.0
    """
    return lag_days + longest_gap_mm / 2 / edge_speed_mm_per_day
