"""Every fixed label and sentence of slides and handout, in one place, by name. Sentences with findings and cautions come from
`sentences`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from reach.base import words
from reach.base.tongue import Phrase


def phrases(texts: Mapping[str, str]) -> Mapping[str, Phrase]:
    """Texts that are said in the reader's language."""
    return {name: Phrase(text) for name, text in texts.items()}


SENT: Final = phrases(
    {
        # --- slides, in their order; `shows` and `hides` are the two sentences of the speaker notes ---
        "question.title": "How far did {watt} reach?",
        "question.title.unknown": "How far did the signal reach?",
        "question.ask": "How far, where to and when was {call} heard with {watt}?",
        "question.ask.unknown": "How far, where to and when was {call} heard?",
        "question.compare": "And was {a} better than {b}, or did the band just change?",
        "question.shows": "This slide asks the question and says whose signal it is about, when, and with how much power.",
        "question.hides": "It does not say yet what came out, and the answer holds for this station, place and period only.",
        "station.title": "The station: {call} in {locator}",
        "station.title.call": "The station: {call}",
        "station.title.unknown": "The station",
        "station.columns": "Setup|Antenna|Feedline|At the radio|At the antenna",
        "station.rows": "{law}.",
        "station.replaced": "The operator replaced the locator of {rows}.",
        "station.facts": "|As reported",
        "station.period": "Period",
        "station.power": "Power at the radio",
        "station.bands": "Bands",
        "station.unknown": "not given",
        "station.budget": "Power at the antenna is worked out from cable and match, each setup's least to most over its bands.",
        "station.alt": "Table of the setups: antenna, feedline, power at the radio and at the antenna.",
        "station.alt.facts": "Table: period, power and bands of the station.",
        "station.shows": "This slide shows what was on the air: antennas, feedlines, and the power that reached each antenna.",
        "station.hides": (
            "It does not show gain or efficiency of the antennas, and it takes what the operator wrote down as true."
        ),
        "cautions.title": "Before you build one: four cautions",
        "cautions.shows": "This slide shows what can hurt people when a wire antenna is put up and used.",
        "cautions.hides": "It is no advice on compliance: local codes, your licence and licensed practice come first.",
        "where.title": "Heard in {countries} and {squares}",
        "where.alt": "Map centred on the station with a great circle to each receiver, coloured by median SNR; {behind}.",
        "where.shows": (
            "This map shows every receiver that reported the signal, at its true distance and bearing from the station."
        ),
        "where.hides": (
            "It does not show where the signal arrived and nobody was listening, so an empty direction proves nothing."
        ),
        "claimed.alt": "Map centred on the station with a hollow mark where each receiver claims to be; nothing confirms these.",
        "claimed.shows": "This map shows where receivers claim to be, and none of these places is confirmed by anything else.",
        "claimed.hides": "It does not show how far the signal reached: that would rest on locators that nobody can vouch for.",
        "far.x.1": "from so many km on, in steps of {step}",
        "far.x.1000": "from so many thousand km on, in steps of {step}",
        "far.y": "reports",
        "far.alt": "Column chart of reports by distance, {steps} steps of {step}; {behind}.",
        "far.all": "all reports",
        "far.shows": "This chart shows how many reports came from how far, in equal steps of distance.",
        "far.hides": (
            "It does not show how far the signal could have gone: receivers are where people live, and the sea has none."
        ),
        "when.other": "other bands",
        "when.x": "hour, UTC",
        "when.alt": "Stacked column chart of reports by hour in UTC and by band; {behind}.",
        "when.shows": "This chart shows in which hours the reports came, one colour for each band.",
        "when.hides": "It does not tell a closed band from an hour in which the station did not transmit.",
        "several.alt": "Differences of every two setups with the intervals that hold for all together",
        "several.columns": "setups|difference|95{gap}% together|apart",
        "several.apart": "yes",
        "several.alike": "no",
        "several.shows": "Every two setups compared by pairs of reports close in time, all brought together by one fit.",
        "several.hides": "The order is that of the estimates: setups that cannot be told apart have no places.",
        "verdict.stronger": "{better} was {db}{gap}dB stronger than {worse}",
        "verdict.same": "No clear difference between {a} and {b}",
        "verdict.unknown": "These data cannot tell {a} from {b}",
        "verdict.columns": "Part|{a} − {b}|95{gap}% interval|Receivers",
        "verdict.all": "all together",
        "verdict.differs": "*",
        "verdict.untold": "cannot tell",
        "verdict.star": "* differs from the rest beyond chance, allowing for the number of parts.",
        "verdict.design": "|{a}|{b}",
        "verdict.reports": "Reports",
        "verdict.stretches": "Stretches on the air",
        "verdict.only": "Receivers that heard only this",
        "verdict.alt": "Table: difference of the setups in dB with interval, over all and part by part.",
        "verdict.alt.design": "Table: reports and stretches on the air of each setup.",
        "verdict.shows": (
            "This slide shows the difference between the setups where the same receiver heard both close together in time, "
            "with how sure it is."
        ),
        "verdict.hides": "It does not say which antenna is better elsewhere, at another height, or on another day.",
        "verdict.shows.unknown": "This slide shows why the way the setups were used cannot answer the question.",
        "verdict.hides.unknown": "It does not say that they are equal: a difference may be there and hidden in the band's own changes.",
        "receivers.key": "Blue and +: {a} stronger. Orange and −: {b} stronger.",
        "receivers.heard": (
            "Circles heard both ({both}), triangles {a} only ({a_only}), squares {b} only ({b_only}); hollow: no difference "
            "beyond chance; dashed: no pair close enough in time. Hearing one only is no evidence."
        ),
        "receivers.alt": "Map centred on the station: receivers coloured by {a} minus {b}; {stronger} of {receivers} in favour of {a}.",
        "blocks.on": "on {setup}",
        "blocks.some": "{count} stretches together",
        "blocks.x": "stretches on the air by their start, UTC",
        "blocks.y": "{a} − {b} [dB]",
        "blocks.alt": "Column chart of {a} minus {b} in time order, {count} columns.",
        "receivers.shows": (
            "The map shows at which receivers which setup was the stronger, and the chart how the difference held in time."
        ),
        "receivers.hides": (
            "They do not show how sure each receiver or stretch is: one alone may be off by several decibels."
        ),
        "limits.title": "What these data cannot tell",
        "limits.decoded": (
            "How strong the weakest signals were: what is not decoded is not reported, so averages read too high."
        ),
        "limits.near": "{share} of the reports lie near the decoding limit.",
        "limits.snr": "Field strength: an SNR is measured against each receiver's own noise.",
        "limits.days": "Another day: this was {days}, and a band changes by several decibels from day to day.",
        "limits.locators": "Distances are between centres of locator cells; {doubt}.",
        "limits.sure": "no locator is in doubt",
        "limits.suspects": "{suspects} in doubt, not counted anywhere here",
        "limits.shows": "This slide lists the limits of the data, so that nobody takes home more than they hold.",
        "limits.hides": "It does not list what is wrong with single rows: problems.csv and suspects.csv of the report do.",
        "next.title": "What to try next",
        "next.columns": "Change every|Hours for {half}{gap}dB|Blocks",
        "next.minutes": "{minutes}{gap}min",
        "next.hours": "{hours}{gap}h",
        "next.together": "both at once",
        "next.alt": "Table: hours and blocks needed for each length of block.",
        "next.shows": "This slide shows how long two setups must alternate until a difference of so many decibels can be seen.",
        "next.hides": "It does not promise it: the band decides, and a single session may come out a third wider or narrower.",
        "season.alt": "Chart: level of each day in dB against the controls, with the levels found and the entries of the log.",
        "season.shows": "This slide shows how much stronger or weaker the station was each day than others that the same receivers heard.",
        "season.hides": "It does not show what those others did, and one day alone says little: look at the line, not at a dot.",
        "calendar.alt": "Calendar: a cell a day, shaded by its reports; below it the same by the median distance of the day.",
        "calendar.shows": "This slide shows on which days the signal was heard, and how far its reports came on each.",
        "calendar.hides": (
            "It does not show how long the station was on the air each day: more reports may be a longer day, not a better one."
        ),
        "openings.alt": "Tables of hours, one for each band, shaded by the days that had a report in that hour.",
        "openings.shows": "This slide shows in which hours each band was heard as the period went on.",
        "openings.hides": "It does not tell a closed band from hours without transmissions.",
        "nothing.title": "No report was accepted",
        "nothing.columns": "Why|Rows",
        "nothing.alt": "Table: reasons why rows were rejected, with their number.",
        "nothing.text": "{read} read. The report's problems.csv says for every row what is wrong with it and what was probably meant.",
        "nothing.shows": "This slide shows why no report could be used.",
        "nothing.hides": "It does not say that nobody heard the signal.",
        "nothing.limit": "That no report was accepted does not mean that nobody heard the signal.",
        # --- on every slide ---
        "made_up": "Made-up demonstration data",
        "about": "Made by reach from reception reports",
        # --- handout ---
        "handout.where": "Where it was heard",
        "handout.far": "How far",
        "handout.claimed": "Where receivers claim to be",
        "handout.calendar": "Reports day by day",
        "handout.limits": "What these data cannot tell",
        "handout.replaced": "{rows} with a replaced locator.",
        "handout.data": "{law}.",
    }
)

# What differs where the station heard others: the same names, every other text as above.
HEARD: Final = phrases(
    {
        "question.title": "How far away was what we heard?",
        "question.title.unknown": "How far away was what we heard?",
        "question.ask": "How far, where from and when did {call} hear others?",
        "question.ask.unknown": "How far, where from and when did {call} hear others?",
        "question.shows": "This slide asks the question and says whose reception it is about, and when.",
        "station.columns": "Setup|Antenna|Feedline",
        "station.shows": "This slide shows what received: antennas and feedlines.",
        "station.hides": (
            "It does not show how much noise each antenna picks up, and it takes what the operator wrote down as true."
        ),
        "station.alt": "Table of the setups: antenna and feedline.",
        "station.alt.facts": "Table: period and bands of the station.",
        "where.title": "It heard {countries} and {squares}",
        "where.alt": "Map centred on the station with a great circle to each transmitter, coloured by median SNR; {behind}.",
        "where.shows": "This map shows every transmitter that was heard, at its true distance and bearing from the station.",
        "where.hides": "It does not show where nobody was transmitting, so an empty direction proves nothing.",
        "claimed.alt": "Map centred on the station with a hollow mark where each transmitter claims to be; nothing confirms these.",
        "claimed.shows": "This map shows where transmitters claim to be, and none of these places is confirmed by anything else.",
        "claimed.hides": "It does not show how far the station hears: that would rest on locators that nobody can vouch for.",
        "far.shows": "This chart shows how many signals were heard from how far, in equal steps of distance.",
        "far.hides": (
            "It does not show how far the station could have heard: transmitters are where people live, and the sea has none."
        ),
        "when.shows": "This chart shows in which hours the signals were heard, one colour for each band.",
        "when.hides": "It does not tell a closed band from an hour in which the station did not listen.",
        "season.shows": "This slide shows how much better or worse the station heard each day than others near by heard the same transmitters.",
        "verdict.stronger": "{better} received with {db}{gap}dB more SNR than {worse}",
        "verdict.columns": "Part|{a} − {b}|95{gap}% interval|Transmitters",
        "verdict.stretches": "Stretches in use",
        "verdict.only": "Transmitters heard only with this",
        "verdict.alt.design": "Table: reports and stretches in use of each setup.",
        "verdict.shows": (
            "This slide shows the difference in SNR between the setups where the same transmitter was heard with both close "
            "together in time, with how sure it is."
        ),
        "verdict.hides": (
            "It does not say whether the signal was stronger or the noise weaker, nor which antenna is better elsewhere, at "
            "another height, or on another day."
        ),
        "receivers.key": "Blue and +: {a} better. Orange and −: {b} better.",
        "receivers.heard": (
            "Circles were heard with both ({both}), triangles with {a} only ({a_only}), squares with {b} only ({b_only}); "
            "hollow: no difference beyond chance; dashed: no pair close enough in time. Being heard with one only is no evidence."
        ),
        "receivers.alt": "Map centred on the station: transmitters coloured by {a} minus {b}; {stronger} of {receivers} in favour of {a}.",
        "receivers.shows": (
            "The map shows which transmitters which setup heard better, and the chart how the difference held in time."
        ),
        "receivers.hides": (
            "They do not show how sure each transmitter or stretch is: one alone may be off by several decibels."
        ),
        "blocks.x": "stretches in use by their start, UTC",
        "limits.snr": (
            "Field strength: an SNR is measured against the station's own noise, which differs from antenna to antenna."
        ),
        "limits.decoded": (
            "How strong the weakest signals were: what is not decoded is not reported, so averages read too high."
        ),
        "calendar.shows": "This slide shows on which days signals were heard, and from how far on each.",
        "calendar.hides": (
            "It does not show how long the station listened each day: more reports may be a longer day, not a better one."
        ),
        "openings.hides": "It does not tell a closed band from hours in which the station did not listen.",
        "nothing.hides": "It does not say that nothing could be heard.",
        "nothing.limit": "That no report was accepted does not mean that nothing could be heard.",
        "handout.where": "What it heard, and where",
        "handout.claimed": "Where transmitters claim to be",
    }
)

# By direction.
_BY_DIRECTION: Final[Mapping[str, Mapping[str, Phrase]]] = {"sent": SENT, "heard": {**SENT, **HEARD}}
Say = Callable[..., str]


def speaker(direction: str = "sent") -> Say:
    """A function that says the text of a name with its values put in: say("next.hours", hours="3.0").

    direction : "sent" or "heard", as the findings have it
    """
    texts = _BY_DIRECTION[direction]

    def say(name: str, **values: Any) -> str:
        return words.text(texts[name], **values)

    return say
