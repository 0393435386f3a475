"""What may turn out otherwise than planned, drawn for a block of simulated courses.

Take has a part of the patient and one of the graft, healing a part of the patient and one of
the wound; achieved expansion is drawn by session and method; the burn is larger or smaller
than stated. Numbers that no patient changes (shape of wounds, loss in handling, slowing of
repeated donor sites, the correlations) stay the same through a course; whether they are drawn
from their published ranges or held at their value is the caller's choice.
"""

from __future__ import annotations

from enum import StrEnum
from functools import cached_property
from zlib import crc32

import numpy as np

from service.domain.body_region import Place
from service.domain.case import SkinLimitAge
from service.domain.graft import GraftKind, GraftMethod, Thickness
from service.evidence.donor_healing import healing_row, repeat_row
from service.evidence.library import Evidence, EvidenceRow
from service.simulation.draws import Draws, Purpose
from service.simulation.quantile_tables import quantile_table, read_table

_METHODS = {method: index for index, method in enumerate(GraftMethod)}


class Parameters(StrEnum):
    """Numbers that stay the same through a course: drawn from their ranges, or held at their value."""

    RANGES = "ranges"
    VALUES = "values"


class Scenarios:
    """One value for each course of the block, from the rows of the evidence.

    A patient's own takes and healing times come in through the evidence: pass one whose rows
    hold what has been learnt.
    """

    def __init__(self, evidence: Evidence, draws: Draws, parameters: Parameters) -> None:
        self.evidence, self.draws, self.parameters = evidence, draws, parameters
        self._constants: dict[str, np.ndarray] = {}
        self._ratios: dict[tuple[int, GraftMethod], np.ndarray] = {}

    @property
    def size(self) -> int:
        return self.draws.size

    def constant(self, parameter: str, applies_to: str = "any") -> np.ndarray:
        """A number that is the same through a course. [unit of the row]"""
        row = self.evidence.row(parameter, applies_to)
        if row.row_id not in self._constants:
            self._constants[row.row_id] = self._constant(row)
        return self._constants[row.row_id]

    def _constant(self, row: EvidenceRow) -> np.ndarray:
        if self.parameters is Parameters.VALUES or row.low is None:
            return np.full(self.size, float(row.value))
        return read_table(quantile_table(row), self.draws.deviates(Purpose.PARAMETER, crc32(row.row_id.encode())))

    def ratio(self, session: int, method: GraftMethod) -> np.ndarray:
        """Achieved expansion of a method in a session. [wound per skin]"""
        key = session, method
        if key not in self._ratios:
            row = self.evidence.row("achieved-expansion-ratio", method)
            deviates = self.draws.deviates(Purpose.RATIO, session, _METHODS[method])
            self._ratios[key] = read_table(quantile_table(row), deviates)
        return self._ratios[key]

    def shape(self, *, is_flat: bool) -> np.ndarray:
        """Wound shape factor. [0-1]"""
        return self.constant("shape-factor", "flat" if is_flat else "concave")

    @cached_property
    def kept_fraction(self) -> np.ndarray:
        """Share of harvested skin that trimming and handling leave. [0-1]"""
        return 1 - self.constant("handling-loss")

    @cached_property
    def _patient_take(self) -> tuple[np.ndarray, np.ndarray]:
        return self._shared(Purpose.PATIENT_TAKE, "take-correlation")

    @cached_property
    def _patient_healing(self) -> tuple[np.ndarray, np.ndarray]:
        return self._shared(Purpose.PATIENT_HEALING, "healing-correlation")

    def _shared(self, purpose: Purpose, correlation: str) -> tuple[np.ndarray, np.ndarray]:
        """The patient's part of a deviate, and the weight of the part that is drawn for each wound."""
        shared = self.constant(correlation, "within-patient")
        return np.sqrt(shared) * self.draws.deviates(purpose), np.sqrt(1 - shared)

    def take(self, session: int, line: int, kind: GraftKind, *, is_colonised: bool) -> np.ndarray:
        """Share of a graft that survives; of one graft, not of the mean of many. [0-1]"""
        row = (self.evidence.row("single-graft-take", kind) if self.evidence.has("single-graft-take", kind)
               else self.evidence.row("take", kind))
        of_patient, weight = self._patient_take
        deviates = of_patient + weight * self.draws.deviates(Purpose.TAKE, session, line)
        take = read_table(quantile_table(row), deviates)
        return take * self.constant("take-multiplier", "colonised") if is_colonised else take

    def closure_days(self, session: int, line: int, method: GraftMethod) -> np.ndarray:
        """Days from placement until the graft has closed; slow in a patient who heals slowly. [d]"""
        row = self.evidence.row("closure-days", method)
        return np.ceil(self._heal(row, self.draws.deviates(Purpose.CLOSURE, session, line)))

    def healing_days(self, session: int, site: int, place: Place, thickness: Thickness,
                     age_band: SkinLimitAge, harvest_number: int) -> np.ndarray:
        """Whole days until a donor site has healed, longer for skin harvested before. [d]"""
        row = self.evidence.row("donor-healing-days", healing_row(place, thickness, age_band))
        first = self._heal(row, self.draws.deviates(Purpose.HEALING, session, site))
        repeat = self.constant("donor-healing-repeat-factor", repeat_row(place, age_band))
        return np.ceil(first * repeat ** (harvest_number - 1))

    def _heal(self, row: EvidenceRow, own: np.ndarray) -> np.ndarray:
        of_patient, weight = self._patient_healing
        return read_table(quantile_table(row), of_patient + weight * own)

    def size_factor(self, burn_percent_tbsa: float) -> np.ndarray:
        """Burn as it turns out, as a share of the burn as stated; never below nothing. [-]"""
        points = self.constant("burn-size-error", "points")
        most = self.constant("burn-size-error", "share-at-most") * burn_percent_tbsa
        error = np.minimum(points, most) * self.draws.deviates(Purpose.BURN_SIZE)
        return np.maximum(0.0, 1 + error / burn_percent_tbsa)
