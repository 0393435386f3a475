"""What every reader of one request needs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from service.fhir.codes import CodeMap
from service.fhir.moments import Moment
from service.fhir.read_log import ReadLog
from service.fhir.references import ReferenceIndex


@dataclass(frozen=True)
class ReadContext:
    """Log, codes, references, and the moment and time zone that dates are read by."""

    log: ReadLog
    code_map: CodeMap
    references: ReferenceIndex
    as_of: datetime
    zone: ZoneInfo

    @property
    def today(self) -> date:
        return self.as_of.astimezone(self.zone).date()

    def is_future(self, moment: Moment) -> bool:
        return moment.instant > self.as_of if moment.instant else moment.day > self.today
