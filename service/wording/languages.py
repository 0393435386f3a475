"""Languages of what pages say: catalogues in ``locale``, English where a message has none."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache, reduce
from gettext import NullTranslations, c2py
from pathlib import Path

from babel import Locale
from babel.dates import format_skeleton
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

LOCALE = Path(__file__).parent / "locale"
SOURCE_LANGUAGE = "en"
_NOUNS_IN_CAPITALS = frozenset({"de"})


@dataclass(frozen=True)
class Language:
    """A language with its direction. ``reviewed``: a clinician who speaks it has read the words."""

    code: str
    name: str
    direction: str
    reviewed: bool


@lru_cache
def languages() -> dict[str, Language]:
    """Every language that is shipped, English first. Only English is reviewed."""
    codes = [SOURCE_LANGUAGE, *sorted(path.stem for path in LOCALE.glob("*.po"))]
    return {code: _describe(code) for code in codes}


def _describe(code: str) -> Language:
    locale = Locale.parse(code)
    direction = "rtl" if locale.text_direction == "rtl" else "ltr"
    return Language(code, locale.get_display_name(code) or code, direction, reviewed=code == SOURCE_LANGUAGE)


class _Catalogue(NullTranslations):
    """Translations of one catalogue file; what is missing or marked doubtful stays English."""

    def __init__(self, code: str) -> None:
        super().__init__()
        with (LOCALE / f"{code}.po").open("rb") as handle:
            read = read_po(handle, locale=code)
        self._form_of = c2py(read.plural_expr)
        self._words = {}
        for message in read:
            forms = message.string if isinstance(message.string, tuple) else (message.string,)
            if message.id and all(forms) and not message.fuzzy:
                key = message.id[0] if isinstance(message.id, tuple) else message.id
                self._words[key] = forms

    def gettext(self, message: str) -> str:
        return self._words.get(message, (message,))[0]

    def ngettext(self, singular: str, plural: str, count: int) -> str:
        if singular in self._words:
            return self._words[singular][self._form_of(count)]
        return super().ngettext(singular, plural, count)


@lru_cache
def gettext_for(language: Language) -> NullTranslations:
    """The words of a language."""
    return NullTranslations() if language.code == SOURCE_LANGUAGE else _Catalogue(language.code)


def N_(message: str) -> str:
    """Marks a message of a table in the code for the catalogues; it is translated where it is used."""
    return message


class Words:
    """The messages of one language, with their values: ``_("{num} cm² are left", num="12")``.

    Wherever a function puts something into words it takes this as ``_``; ``ENGLISH`` leaves every message as written.
    """

    def __init__(self, language: Language) -> None:
        self.language = language
        self._translations = gettext_for(language)

    def __call__(self, message: str, **values: object) -> str:
        text = self._translations.gettext(message)
        return text.format(**values) if values else text

    def ngettext(self, singular: str, plural: str, num: int, **values: object) -> str:
        """The form of a message that goes with a count; ``{num}`` in it is the count."""
        return self._translations.ngettext(singular, plural, num).format(num=num, **values)

    def each(self, names: Iterable[str]) -> str:
        """``A``, ``A and B``, ``A, B and C``."""
        *first, last = names
        return self("{first} and {second}", first=self.series(first), second=last) if first else last

    def linked(self, names: Iterable[str]) -> str:
        """``A and B and C``: for names that hold commas themselves, as places do."""
        return reduce(lambda first, second: self("{first} and {second}", first=first, second=second), names)

    def either(self, names: Iterable[str]) -> str:
        """``A``, ``A or B``, ``A, B or C``."""
        *first, last = names
        return self("{first} or {second}", first=self.series(first), second=last) if first else last

    def series(self, names: Iterable[str]) -> str:
        """``A``, ``A, B``, ``A, B, C``."""
        return reduce(lambda first, second: self("{first}, {second}", first=first, second=second), names)

    def continued(self, message: str) -> str:
        """A message that goes on inside a sentence: without its capital, except where nouns keep theirs."""
        return message if self.language.code in _NOUNS_IN_CAPITALS else f"{message[:1].lower()}{message[1:]}"

    def day_month(self, day: date) -> str:
        """A date whose year stands beside it: ``03-12`` in English."""
        if self.language.code == SOURCE_LANGUAGE:
            return f"{day:%m-%d}"
        return format_skeleton("MMMd", day, locale=self.language.code)


ENGLISH = Words(languages()[SOURCE_LANGUAGE])

_SHARE_OF_BODY = N_("%TBSA")
#: A letter of another script may stand before a number, as the Arabic "and" does.
_DATE = re.compile(r"(?<![A-Za-z0-9-])(\d{4}-\d{2}-\d{2})( (?:Mon|Tue|Wed|Thu|Fri|Sat|Sun))?(?![A-Za-z0-9-])")
#: What no number begins after: letters, points, and a hyphen unless it stands in a range.
_BEFORE = r"(?<![A-Za-z0-9_.:/])(?<!\D-)(?<!^-)"
_NUMBER = re.compile(rf"{_BEFORE}\d{{1,3}}(?:,\d{{3}})+(?:\.\d+)?(?![\w:])|{_BEFORE}\d+\.\d+(?![\w.:])")
_PLAIN = r"\d+(?:[.,:]\d+)*"
_UNIT = r"(?:\s?(?:%TBSA|cm²|m²|cm|mm|min|mL|kg|°C|%|h)(?![A-Za-z/]))"
#: What reads from left to right inside a line that runs the other way: a range, or a number with its unit.
_MEASURE = re.compile(rf"{_PLAIN}-{_PLAIN}{_UNIT}?|{_PLAIN}{_UNIT}|%TBSA")
_LEFT_TO_RIGHT, _END = "\u2066", "\u2069"


def localise(text: str, language: Language) -> str:
    """Dates, numbers and %TBSA of a printed text in the manner of a language; English stays as it is.

    Digits stay Western ones everywhere: drug charts and theatre lists are read by people of several languages.
    Ratios (``1:1.5``) are names and stay as they are.
    """
    if language.code == SOURCE_LANGUAGE:
        return text
    dated = _DATE.sub(lambda found: _local_date(found[1], bool(found[2]), language.code), text)
    numbered = _NUMBER.sub(lambda found: _local_number(found[0], language.code), dated)
    if language.direction == "rtl":
        numbered = _MEASURE.sub(lambda found: f"{_LEFT_TO_RIGHT}{found[0]}{_END}", numbered)
    return numbered.replace(_SHARE_OF_BODY, gettext_for(language).gettext(_SHARE_OF_BODY))


def _local_date(text: str, with_weekday: bool, code: str) -> str:
    return format_skeleton("yMMMEd" if with_weekday else "yMMMd", date.fromisoformat(text), locale=code)


def _local_number(text: str, code: str) -> str:
    number = Decimal(text.replace(",", ""))
    places = -number.as_tuple().exponent
    pattern = "#,##0" + ("." + "0" * places if places else "")
    return format_decimal(number, pattern, locale=code, numbering_system="latn")
