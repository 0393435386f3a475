"""Go on with some courses of a block only: most need no session beyond the plan."""

from __future__ import annotations

from copy import copy

import numpy as np

from service.simulation.course_state import CourseState, PlacedGraft, StoredSkin
from service.simulation.donor_skin import DonorSkin, Parcel
from service.simulation.draws import Draws
from service.simulation.scenarios import Scenarios

#: What holds arrays over the courses.
CARRIERS = (CourseState, PlacedGraft, StoredSkin, DonorSkin, Parcel, Scenarios, Draws)
#: What is the same for every course, and large.
SHARED = frozenset({"book", "evidence", "made"})


def at_courses(value, chosen: np.ndarray, size: int, seen: dict[int, object] | None = None):
    """A copy in which every array over the courses holds the chosen ones only.

    Parameters
    ----------
    value : object
        Arrays whose last axis is the courses, in any nest of lists, dicts and objects; what is
        shared inside stays shared, everything else is kept as it is.
    chosen : numpy.ndarray
        Indices of the courses, rising.
    size : int
        Courses before the choice.
    """
    seen = {} if seen is None else seen
    if id(value) in seen:
        return seen[id(value)]
    if isinstance(value, np.ndarray):
        made = value[..., chosen] if value.ndim and value.shape[-1] == size else value
    elif isinstance(value, (list, tuple)):
        made = type(value)(at_courses(item, chosen, size, seen) for item in value)
    elif isinstance(value, dict):
        made = {key: at_courses(item, chosen, size, seen) for key, item in value.items()}
    elif isinstance(value, CARRIERS):
        made = _object_at(value, chosen, size, seen)
    else:
        made = value
    seen[id(value)] = made
    return made


def _object_at(value, chosen: np.ndarray, size: int, seen: dict[int, object]):
    made = copy(value)
    seen[id(value)] = made
    for name, item in vars(value).items():
        if name not in SHARED:
            setattr(made, name, at_courses(item, chosen, size, seen))
    return made
