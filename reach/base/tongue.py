"""In which language the files speak: catalogues (gettext) for sentences, CLDR (Babel) for numbers, days and countries.

The program is written in English and its sentences are the keys of the catalogues, so that English needs neither. Which
tongue is spoken is a matter of what is being written at the moment, like the typography of a figure: whoever writes files
opens `speaking(language)`, and every `Typography` that speaks asks `spoken()`. Outside of it, and in other threads, it is English.
"""

from __future__ import annotations

import gettext
import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any, Final

from reach import data

if TYPE_CHECKING:
    from babel import Locale

ENGLISH: Final = "en"
# Languages by code, each in its own words. Their catalogues are in data/languages; none is here before it is complete.
LANGUAGES: Final[Mapping[str, str]] = {
    "en": "English",
    "de": "Deutsch",
    "fr": "Français",
    "es": "Español",
    "it": "Italiano",
    "ja": "日本語",
}


class Phrase(str):
    """A text that is said in the tongue of the medium: what `Typography.text` puts in place of it is its translation."""

    __slots__ = ()


@dataclass(frozen=True)
class Tongue:
    """One language. catalogue : what its sentences are; the key itself where it has none"""

    language: str
    catalogue: gettext.NullTranslations

    @property
    def is_source(self) -> bool:
        """Whether it is the language that the program is written in."""
        return self.language == ENGLISH

    @cached_property
    def locale(self) -> Locale:
        """What CLDR knows of it."""
        from babel import Locale

        return Locale(self.language)

    @cached_property
    def decimal(self) -> str:
        """What stands before the decimals."""
        return "." if self.is_source else str(self.locale.number_symbols["latn"]["decimal"])

    @property
    def stop(self) -> str:
        """What ends a sentence."""
        return "。" if self.language == "ja" else "."

    def counted(self, one: str, many: str, number: int, form: str = "") -> str:
        """The form of a message that a number asks for. form : that a sentence asks for besides, such as "dative" """
        if form:
            return self.catalogue.npgettext(form, one, many, number)
        return self.catalogue.ngettext(one, many, number)

    def listed(self, names: list[str], last: str) -> str:
        """'a, b und c'. last : "and" or "or" """
        from babel.lists import format_list

        return str(format_list(names, style="or" if last == "or" else "standard", locale=self.locale))

    def day(self, moment: date, *, year: bool = True) -> str:
        """'9. Mai 2026'."""
        from babel import dates

        if year:
            return str(dates.format_date(moment, "long", self.locale))
        return str(dates.format_skeleton("MMMMd", moment, locale=self.locale))

    def month(self, moment: date) -> str:
        """'Mai 2026'."""
        from babel import dates

        return str(dates.format_skeleton("yMMMM", moment, locale=self.locale))

    def months(self, english: list[str]) -> dict[str, str]:
        """The short names of the twelve months by the English ones."""
        if self.is_source:
            return {name: name for name in english}
        own = self.locale.months["stand-alone"]["abbreviated"]
        return {name: str(own[k]) for k, name in enumerate(english, 1)}

    def days(self, first: date, last: date) -> str:
        """'9.–11. Mai 2026'."""
        if first == last:
            return self.day(first)
        from babel import dates

        return str(dates.format_interval(first, last, "yMMMMd", locale=self.locale)).replace("\N{THIN SPACE}", "")

    def country(self, name: str) -> str:
        """A country by its English name, as the bundled borders have it; the name itself where it has no ISO code."""
        if self.is_source:
            return name
        from reach.base import territories

        return str(self.locale.territories.get(territories.code(name), name))


@cache
def tongue(language: str) -> Tongue:
    """A language of LANGUAGES."""
    if language == ENGLISH:
        return Tongue(ENGLISH, gettext.NullTranslations())
    return Tongue(language, gettext.GNUTranslations(io.BytesIO(data.read_bytes(f"languages/{language}.mo"))))


_SPOKEN: Final[ContextVar[str]] = ContextVar("spoken", default=ENGLISH)


def spoken() -> Tongue:
    """The tongue that is spoken just now."""
    return tongue(_SPOKEN.get())


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Within it everything for people to look at is said in this language. language : one of LANGUAGES"""
    before = _SPOKEN.set(language)
    try:
        yield
    finally:
        _SPOKEN.reset(before)


def of_environment(environment: Mapping[str, str]) -> str:
    """The language that a locale's variables ask for, English where it is none of ours or none is named.

    Source: POSIX.1-2024, Base Definitions, 8.2: LC_ALL goes before LC_MESSAGES, that before LANG; C and POSIX are no language.
    """
    asked = next((environment[name] for name in ("LC_ALL", "LC_MESSAGES", "LANG") if environment.get(name)), "")
    language = asked.partition(".")[0].partition("_")[0].partition("@")[0].lower()
    return language if language in LANGUAGES else ENGLISH


class Inflected(str):
    """A count of things or a phrase as a sentence takes it in: its plain form, and by name those that other cases ask for.

    A translation asks for one with what stands behind the colon: "an {receivers:dative}".
    """

    _forms: Any

    def __new__(cls, plain: str, forms: Any) -> Inflected:
        made = super().__new__(cls, plain)
        made._forms = forms
        return made

    def __format__(self, form: str) -> str:
        return str(self._forms(form)) if form else str(self)
