"""Languages of the fixed words of pages: catalogues in ``locale``, English where a word has none."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from gettext import NullTranslations, c2py
from pathlib import Path

from babel import Locale
from babel.messages.pofile import read_po

LOCALE = Path(__file__).parent / "locale"
SOURCE_LANGUAGE = "en"


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
