"""Theatre minutes of a session. Estimates: no published study measured the single steps."""

from __future__ import annotations


def procedure_minutes(
    operated_percent_tbsa,
    positions_count,
    special_areas_count,
    *,
    fixed_minutes,
    minutes_per_percent,
    turn_minutes,
    special_area_minutes,
):
    r"""Minutes from the first cut to the last dressing, one team.

    Parameters
    ----------
    operated_percent_tbsa : numeric
        Body surface **operated on** in this session, never the burn. [%TBSA]
    positions_count : int
        Positions of the patient, one at least.
    special_areas_count : int
        Face, hands, neck, perineum operated on, each with a time of its own.
    fixed_minutes, turn_minutes, special_area_minutes : numeric
        [min]
    minutes_per_percent : numeric
        [min per %TBSA]

    Returns
    -------
    numeric
        [min]

    Raises
    ------
    ValueError
        Without a position, or with a negative area.

    Notes
    -----
    .. math:: T = t_0 + t_1 p + t_u (n - 1) + t_s a

    References
    ----------
    .. [1] evidence/tables/theatre_minutes.csv
    """
    if positions_count < 1 or operated_percent_tbsa < 0:
        raise ValueError("a session has a position and an area that is not negative")
    return (
        fixed_minutes
        + minutes_per_percent * operated_percent_tbsa
        + turn_minutes * (positions_count - 1)
        + special_area_minutes * special_areas_count
    )


def in_room_minutes(procedure, *, induction_minutes, preparation_minutes, exit_minutes):
    r"""Minutes that the patient is in the room.

    Parameters
    ----------
    procedure : numeric
        As ``procedure_minutes``. [min]
    induction_minutes, preparation_minutes, exit_minutes : numeric
        [min]

    Returns
    -------
    numeric
        [min]

    Notes
    -----
    .. math:: T_r = t_i + t_p + T + t_e
    """
    return induction_minutes + preparation_minutes + procedure + exit_minutes


def theatre_slot_minutes(in_room, *, turnover_minutes, another_patient_follows: bool):
    """Minutes that the theatre is taken: turnover only when another patient follows. [min]"""
    return in_room + turnover_minutes if another_patient_follows else in_room


def two_team_minutes_floor(procedure, *, saving_fraction):
    """Shortest the procedure can be with two teams: they save at most this share. [min]"""
    return procedure * (1 - saving_fraction)


def plate_preparation_minutes(plates, people_count, *, minutes_per_plate):
    """Minutes to prepare island plates, the people working side by side. [min]"""
    return plates * minutes_per_plate / people_count
