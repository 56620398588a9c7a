"""Numbers and moments in words, once for each medium.

Sentences never write a number themselves: they ask a `Typography`. `PRINT` is what pictures, page, slides and handout
use, `TERMINAL` what a terminal, a CSV file and JSON use, where the finer characters are not always there. The functions
of this module are those of `PRINT`.

What is read by people who were not at the terminal is said in their tongue: `PRINT` speaks the one of `base.tongue.spoken`,
`TERMINAL` English. A sentence is one message with named places, `say.text("{better} was {db} stronger than {worse}", ...)`,
so that another tongue may put them in its own order; a text that is kept and said later is a `Phrase`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property
from typing import Any, Final

from reach.base import tongue, ways
from reach.base.tongue import Inflected, Phrase, Tongue
from reach.base.ways import Medium

THIN: Final = "\N{NARROW NO-BREAK SPACE}"
NO_BREAK: Final = "\N{NO-BREAK SPACE}"
EN_DASH: Final = "\N{EN DASH}"
MINUS: Final = "\N{MINUS SIGN}"
_BY_TENS_KM: Final = 1000  # from there on a distance is said to 10 km
_LONGEST: Final = 40  # characters of a quoted cell
COMPASS: Final = (
    Phrase("N"), Phrase("NNE"), Phrase("NE"), Phrase("ENE"), Phrase("E"), Phrase("ESE"), Phrase("SE"), Phrase("SSE"),
    Phrase("S"), Phrase("SSW"), Phrase("SW"), Phrase("WSW"), Phrase("W"), Phrase("WNW"), Phrase("NW"), Phrase("NNW"),
)  # fmt: skip


_SOURCE: Final = tongue.tongue(tongue.ENGLISH)


@dataclass(frozen=True, eq=False)  # told apart by identity: what is said once and kept is looked up by it
class Typography:
    """How one medium writes numbers.

    thousands  between groups of three digits; gap : between a number and its unit; blank : where a line must not break
    minus, plus_minus, dash  the signs; code : round the name of a command
    speaks     whether it says things in the reader's tongue; else in English
    medium     where it is read by who may give something more; None for page, pictures and slides: they name no option, command or screen
    """

    thousands: str
    gap: str
    blank: str
    minus: str
    plus_minus: str
    dash: str
    code: str
    speaks: bool
    medium: Medium | None = None

    @property
    def tongue(self) -> Tongue:
        """The tongue it speaks just now."""
        return tongue.spoken() if self.speaks else _SOURCE

    @cached_property
    def _signs(self) -> dict[str, str]:
        """What every message may put in without being given it."""
        return {name: getattr(self, name) for name in ("gap", "blank", "minus", "plus_minus", "dash")}

    @cached_property
    def _with_signs(self) -> dict[str, str]:
        """Messages as they stand in the program, with the signs in them: kept, for a table says one of them a million times."""
        return {}

    def _signed(self, message: str) -> str:
        if (found := self._with_signs.get(message)) is None:
            found = message
            for name, sign in self._signs.items():
                found = found.replace(f"{{{name}}}", sign)
            self._with_signs[str(message)] = found
        return found

    def text(self, message: str, /, **values: Any) -> str:
        """A message in the medium's tongue with its values put in; so are those that are a `Phrase` themselves.

        message : English, whole, with places such as {receivers}; {gap}, {minus} and the other signs are put in unasked
        """
        spoken = self.tongue
        if spoken.is_source:
            return self._signed(message).format(**values)
        return spoken.catalogue.gettext(message).format(**self._signs, **self._said(values))

    def plural(self, number: float, one: str, many: str, /, **values: Any) -> str:
        """A message in the form that a number asks for, which it may name as {n}."""
        spoken = self.tongue
        if spoken.is_source:
            return self._signed(one if number == 1 else many).format(n=self.count(number), **values)
        form = spoken.counted(one, many, _whole(number))
        return form.format(**self._signs, n=self.count(number), **self._said(values))

    def _said(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """Values as a message takes them in: a `Phrase` in the medium's tongue, and in the form the message asks for."""
        catalogue = self.tongue.catalogue

        def inflected(phrase: Phrase) -> Inflected:
            return Inflected(self.text(phrase), lambda form: catalogue.pgettext(form, phrase))

        return {name: inflected(value) if isinstance(value, Phrase) else value for name, value in values.items()}

    def _decimal(self, text: str) -> str:
        """A number's text with the tongue's decimal sign, and with the medium's minus."""
        return text.replace("-", self.minus).replace(".", self.tongue.decimal)

    def count(self, value: float) -> str:
        """A whole number: '12 345'."""
        return f"{value:,.0f}".replace("-", self.minus).replace(",", self.thousands)

    def km(self, value: float) -> str:
        """A distance: '1 480 km', to 10 km from 1 000 km on, to 1 km below."""
        rounded = round(value, -1) if abs(value) >= _BY_TENS_KM else value
        return f"{self.count(rounded)}{self.gap}km"

    def beyond(self, value_km: float) -> str:
        """A distance that reports came from beyond: as `km`, but rounded down, since it may not claim more than they hold."""
        return self.km(_down(value_km))

    def within(self, value_km: float) -> str:
        """A distance that reports came from within: as `km`, but rounded up, for the same reason."""
        return self.km(0.0 - _down(-value_km))

    def beyond_span(self, low_km: float, high_km: float) -> str:
        """The ends of the interval of such a distance: '1 390 to 1 610 km', rounded down as that is, so that it lies between."""
        return self.km_span(_down(low_km), _down(high_km))

    def km_span(self, low: float, high: float) -> str:
        """Two distances: '1 390 to 1 610 km'."""
        return self.text("{low} to {high}", low=self.km(low).removesuffix(f"{self.gap}km"), high=self.km(high))

    def distance(self, value_km: float, uncertainty_km: float) -> str:
        """'17 020 ± 9 km': a distance with the uncertainty of its locators, which is rounded up to whole kilometres."""
        within = max(1, math.ceil(uncertainty_km))
        return f"{self.count(value_km)}{self.blank}{self.plus_minus}{self.blank}{self.count(within)}{self.gap}km"

    def bearing(self, bearing_deg: float, within_deg: float) -> str:
        """'12° ± 3°, or the other way round at 192°': a bearing near the antipode, with its uncertainty and its opposite."""
        if within_deg >= 90:
            return self.text("any bearing: it is as good as the antipode")
        return self.text(
            "{bearing}°{blank}{plus_minus}{blank}{within}°, or the other way round at {back}°",
            bearing=f"{bearing_deg % 360:.0f}",
            within=max(1, math.ceil(within_deg)),
            back=f"{(bearing_deg + 180) % 360:.0f}",
        )

    def number(self, value: float, digits: int = 1) -> str:
        """A number with so many digits; what rounds to nothing has no sign."""
        return self._decimal(f"{round(value, digits) + 0.0:.{digits}f}")

    def plain(self, value: float) -> str:
        """A number as it was given, in as few characters as it takes: '14.1', '20', '−8'."""
        return self._decimal(f"{value:g}")

    def signed(self, value: float, digits: int = 1) -> str:
        """A number with its sign: '+2.4', '−1.0'; what rounds to nothing has none: '0.0'."""
        text = f"{value:+.{digits}f}" if round(value, digits) else f"{0:.{digits}f}"
        return self._decimal(text)

    def db(self, value: float, digits: int = 0) -> str:
        """A level: '−12 dB'."""
        return f"{self.number(value, digits)}{self.gap}dB"

    def db_signed(self, value: float, digits: int = 1) -> str:
        """A difference: '+2.4 dB'."""
        return f"{self.signed(value, digits)}{self.gap}dB"

    def limits(self, low: float, high: float, unit: bool = True) -> str:
        """The ends of an interval of a difference: '-0.4 to +1.6 dB'. An end that is not 0 never reads as 0: '+0.04 to +3.2 dB',
        since whether an interval leaves 0 out is what it is read for."""
        span = self.text(
            "{low} to {high}", low=self.signed(low, digits_for(low)), high=self.signed(high, digits_for(high))
        )
        return f"{span}{self.gap}dB" if unit else span

    def watt(self, value: float) -> str:
        """A power: '5 W', '4.3 W', '200 mW'."""
        if value < 0.9995:  # from there on it rounds to 1 W, and "1000 mW" is no way to say that
            milli = value * 1000
            return self._decimal(f"{milli:.0f}" if milli >= 0.95 else f"{milli:.2g}") + f"{self.gap}mW"
        return self._decimal(f"{value:.1f}".removesuffix(".0")) + f"{self.gap}W"

    def things(self, value: float, one: str, many: str | None = None) -> str:
        """'1 report', '1 480 reports'."""
        many = many or one + "s"
        spoken, number = self.tongue, self.count(value)
        if spoken.is_source:
            return f"{number} {one if value == 1 else many}"
        ways = f"{{n}} {one}", f"{{n}} {many}"
        return Inflected(
            spoken.counted(*ways, _whole(value)).format(n=number),
            lambda form: spoken.counted(*ways, _whole(value), form).format(n=number),
        )

    def share(self, part: float, whole: float = 1.0) -> str:
        """'62 %'; a share that is small but not none is '<1 %'."""
        percent = 100 * part / whole if whole else 0.0
        return f"<1{self.gap}%" if 0 < percent < 0.5 else f"{percent:.0f}{self.gap}%"

    def day(self, moment: date) -> str:
        """'9 May 2026'."""
        if self.tongue.is_source:
            return f"{moment.day} {moment:%B %Y}".replace(" ", self.blank)
        return self.tongue.day(moment).replace(" ", self.blank)

    def month(self, moment: date) -> str:
        """'May 2026'."""
        if self.tongue.is_source:
            return f"{moment:%B %Y}".replace(" ", self.blank)
        return self.tongue.month(moment).replace(" ", self.blank)

    def day_of_year(self, moment: date) -> str:
        """'9 May': where the year is said elsewhere."""
        return f"{moment.day} {moment:%B}" if self.tongue.is_source else self.tongue.day(moment, year=False)

    def period(self, first: datetime, last: datetime) -> str:
        """From when to when, in UTC, as short as it can be said."""
        if first.date() == last.date():
            return self.text(
                "{day}, {first}{dash}{last} UTC", day=self.day(first), first=f"{first:%H:%M}", last=f"{last:%H:%M}"
            )
        if not self.tongue.is_source:
            return self.tongue.days(first.date(), last.date()).replace(" ", self.blank)
        if (first.year, first.month) == (last.year, last.month):
            return f"{first.day}{self.dash}{self.day(last)}"
        return f"{self.day(first)} {self.dash} {self.day(last)}"

    def listed(self, names: Sequence[str], last: str = "and") -> str:
        """'a', 'a and b', 'a, b and c'; '' for none. last : "and" or "or" """
        if self.tongue.is_source or len(names) < 2:
            return listed(names, last)
        return self.tongue.listed([str(name) for name in names], last)

    def compass(self, bearing_deg: float) -> str:
        """The nearest of sixteen compass points: 'NNE'."""
        return self.text(COMPASS[int(((bearing_deg % 360) + 11.25) // 22.5) % 16])

    def hour(self, which: int) -> str:
        """An hour of the day: '21:00 and 22:00', what lies between."""
        return self.text("{start} and {end}", start=f"{which:02d}:00", end=f"{(which + 1) % 24:02d}:00")

    def country(self, name: str) -> str:
        """A country by the name that it has in the tables, which is English."""
        return self.tongue.country(name)

    @property
    def stop(self) -> str:
        """What ends a sentence."""
        return self.tongue.stop

    def command(self, text: str) -> str:
        """The name of a command."""
        return f"{self.code}{text}{self.code}"

    def way(self, code: str, *values: str) -> str:
        """How something is given where this is read, as `ways` has it; '' where it cannot. code, values : as for `ways.asked`"""
        words = ways.said(ways.asked(code, *values), self.medium) if self.medium else ""
        return self.command(words) if words else ""

    def how(self, code: str, *values: str) -> str:
        """The same behind what is to be done: ' (`--now`)'; '' where it cannot be given."""
        way = self.way(code, *values)
        return f" ({way})" if way else ""


PRINT: Final = Typography(THIN, THIN, NO_BREAK, MINUS, "±", EN_DASH, "", speaks=True)
TERMINAL: Final = Typography(",", " ", " ", "-", "+/-", "-", "`", speaks=False, medium=Medium.OPTION)
DESK: Final = replace(TERMINAL, code="", medium=Medium.SCREEN)
LIBRARY: Final = replace(TERMINAL, medium=Medium.ARGUMENT)

count, km, number, signed = PRINT.count, PRINT.km, PRINT.number, PRINT.signed
db_signed, watt, things, share = PRINT.db_signed, PRINT.watt, PRINT.things, PRINT.share
compass, hour, text = PRINT.compass, PRINT.hour, PRINT.text


def digits_for(value: float, least: int = 1, most: int = 4) -> int:
    """How many digits behind the point a number needs so that it does not read as 0, unless it is as good as that."""
    return next((digits for digits in range(least, most) if round(value, digits)), least)


def listed(names: Sequence[str], last: str = "and") -> str:
    """'a', 'a and b', 'a, b and c'; '' for none."""
    return f"{', '.join(names[:-1])} {last} {names[-1]}" if len(names) > 1 else "".join(names)


def quoted(text: str) -> str:
    """A cell as an explanation shows it: in quotes, on one line, shortened where it would drown the sentence."""
    return repr(text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "...")


def _down(value_km: float) -> float:
    """The next lower distance of those that are said; never above the value, whatever its last digit."""
    step = 10.0 if abs(value_km) >= _BY_TENS_KM else 1.0
    return value_km // step * step


def _whole(number: float) -> int:
    """The number that a plural form is chosen by: a fraction takes the form of many."""
    return int(number) if number == int(number) else 2
