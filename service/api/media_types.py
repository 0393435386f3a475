"""Which form a caller sends and which one it wants back.

https://hl7.org/fhir/R4/http.html#mime-type; ``_format`` and ``_pretty`` are of
https://hl7.org/fhir/R4/http.html#parameters
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from email.message import Message
from email.utils import collapse_rfc2231_value

from service.api.transport_faults import TransportFault

FHIR_JSON = "application/fhir+json"
TEXT = "text/plain"
JSON_FORMS = (FHIR_JSON, "application/json", "text/json")
FHIR_RELEASES = ("4.0", "4.0.1")
#: A plus sign in a query is a space to most clients.
_FORMAT_WORDS = {"json": FHIR_JSON, "application/fhir json": FHIR_JSON, "text": TEXT}
NOTHING = (0.0, 0)
_GZIP_NAMES = ("gzip", "x-gzip")
_CHARSETS = ("utf-8", "utf8", "us-ascii")


@dataclass(frozen=True)
class MediaType:
    """One media type with its parameters; names in lower case."""

    name: str
    parameters: dict[str, str]

    @property
    def quality(self) -> float:
        """Weight that the caller gives it; what cannot be read weighs nothing. [0-1]"""
        try:
            return min(1.0, max(0.0, float(self.parameters.get("q", "1"))))
        except ValueError:
            return 0.0

    @property
    def is_readable(self) -> bool:
        """Whether its release of FHIR and its character set are those spoken here."""
        release = self.parameters.get("fhirversion", FHIR_RELEASES[0])
        charset = self.parameters.get("charset", _CHARSETS[0]).lower()
        return release in FHIR_RELEASES and charset in _CHARSETS

    def closeness(self, form: str) -> int:
        """How exactly it names ``form``: 3 by name, 2 by its kind, 1 as anything, 0 not at all."""
        return {form: 3, f"{form.split('/')[0]}/*": 2, "*/*": 1}.get(self.name, 0)


def read_media_type(text: str) -> MediaType:
    """Read ``application/json; charset=utf-8``."""
    message = Message()
    message["content-type"] = text
    parameters = {name.lower(): collapse_rfc2231_value(value) for name, value in message.get_params()[1:]}
    return MediaType(text.split(";")[0].strip().lower(), parameters)


def require_json_body(content_type: str | None, content_encoding: str | None) -> None:
    """Refuse a body that is not FHIR R4 JSON, as it stands or in gzip. Raises ``TransportFault`` (415)."""
    if _encoding_of(content_encoding) not in ("identity", *_GZIP_NAMES):
        raise TransportFault("encoding-not-supported")
    sent = read_media_type(content_type or "")
    if sent.name not in JSON_FORMS or not sent.is_readable:
        raise TransportFault("media-type-not-supported")


def is_packed(content_encoding: str | None) -> bool:
    return _encoding_of(content_encoding) in _GZIP_NAMES


def _encoding_of(content_encoding: str | None) -> str:
    return (content_encoding or "identity").strip().lower()


def is_strict(prefer: str | None) -> bool:
    """Whether ``Prefer`` asks for ``handling=strict``, https://hl7.org/fhir/R4/search.html#errors."""
    preferences = (preference.strip().lower() for preference in re.split("[,;]", prefer or ""))
    return "handling=strict" in preferences


def choose_form(accept: str | None, format_word: str | None, offered: tuple[str, ...]) -> str:
    """The form to answer in: the caller's favourite; of equals the one named, then the first offered.

    Parameters
    ----------
    accept : str or None
        The ``Accept`` header; ``None``: everything is welcome.
    format_word : str or None
        The ``_format`` of the query, which goes before the header.
    offered : tuple of str
        Media types that can be written, best first.

    Raises
    ------
    TransportFault
        406 when nothing offered is welcome.
    """
    wanted = [read_media_type(_FORMAT_WORDS.get(format_word, format_word))] if format_word else _read_accept(accept)
    weights = {form: _weigh(form, wanted) for form in offered}
    best = max(offered, key=weights.__getitem__)
    if weights[best] == NOTHING:
        raise TransportFault("answer-not-acceptable")
    return best


def _weigh(form: str, wanted: list[MediaType]) -> tuple[float, int]:
    """Weight that the most exact mention of a form gives it, then how exact that mention is."""
    closest = max((m.closeness(form) for m in wanted), default=0)
    quality = max((m.quality for m in wanted if closest and m.closeness(form) == closest), default=0.0)
    return (quality, closest) if quality else NOTHING


def _read_accept(accept: str | None) -> list[MediaType]:
    return [m for part in (accept or "*/*").split(",") if (m := read_media_type(part)).is_readable]
