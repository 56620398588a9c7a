"""The words that depend on the direction: whether others heard this station, or this station heard others.

Inside, the columns rx_ speak of the far end in either direction. At the edge the far end has a name, and what happened to
the signal has another verb; all of these stand here, so that no sentence chooses them for itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import pandas as pd

from reach.base.tongue import Phrase
from reach.base.words import Typography


class Directed(Protocol):
    """Whatever knows its direction, "sent" or "heard": findings, a comparison, a study."""

    @property
    def direction(self) -> str: ...


@dataclass(frozen=True)
class Ends:
    """How one direction is spoken of.

    named          the direction itself, behind the station's name
    far            who stands at the far end; `far_many` several of them, `far_people` the same as people
    where          "Where to", "Where from": the answer's second question
    where_heard    "Heard in 3 countries", as a title; what stands before the numbers
    reports_came   the subject of "came from beyond ..."; `most_often` that of "between 20:00 and 21:00 UTC"; `came`, `all_came`
                   where no hour or direction stands apart, or there is but one
    farthest_heard what stands before the farthest callsign
    it_heard       the subject and verb before "37 countries"
    reached        when the distance was largest: "the signal reached farthest"
    nobody         what an empty sector may mean; `silent` what an empty hour may mean
    no_far_end     what an empty direction proves
    on_the_air     what a setup does while it is studied; `better` how the better one's signals are, or it is
    share_of       what shares are shares of; `stayed` what most of it did within a distance
    hour_caution   what hours do not say, beside the best ones; `skip_caution` what the nearest reports do not
    corroborated   when a locator is, as a sentence; `corroborated_by` as a clause, for the first place where the word stands
    """

    direction: str
    named: str
    far: str
    far_many: str
    far_people: str
    where: str
    where_heard: str
    reports_came: str
    most_often: str
    came: str
    all_came: str
    farthest_heard: str
    it_heard: str
    reached: str
    nobody: str
    silent: str
    no_far_end: str
    on_the_air: str
    better: str
    share_of: str
    stayed: str
    hour_caution: str
    skip_caution: str
    corroborated: str
    corroborated_by: str

    def fars(self, count: float, say: Typography) -> str:
        """'1 receiver', '35 transmitters'."""
        return say.things(count, "receiver") if self is SENT else say.things(count, "transmitter")

    def reports(self, count: float, say: Typography) -> str:
        """What came from beyond some distance, with its number: '1 480 reports', '1 480 signals heard'."""
        return say.things(count, "report") if self is SENT else say.things(count, "signal heard", "signals heard")


SENT: Final = Ends(
    direction="sent",
    named=Phrase("as others heard it"),
    far=Phrase("receiver"),
    far_many=Phrase("receivers"),
    far_people=Phrase("listeners"),
    where=Phrase("Where to"),
    where_heard=Phrase("Heard in"),
    reports_came=Phrase("the reports"),
    most_often=Phrase("Reports were most frequent"),
    came=Phrase("Reports came"),
    all_came=Phrase("All reports came"),
    farthest_heard=Phrase("the farthest from"),
    it_heard=Phrase("It was heard in"),
    reached=Phrase("the signal reached farthest"),
    nobody=Phrase("nobody listens there"),
    silent=Phrase("an hour without transmissions"),
    no_far_end=(
        Phrase(
            "Where nobody listens nothing is reported: an empty direction is no proof that the signal did not get there."
        )
    ),
    on_the_air=Phrase("on the air"),
    better=Phrase("stronger"),
    share_of=Phrase("reports"),
    stayed=Phrase("stayed"),
    hour_caution=Phrase(
        "Hours in which nobody heard you are not counted, because reports do not tell whether you were sending then."
    ),
    skip_caution=(
        Phrase(
            "Observed, not proved: where nobody listens nobody reports, so an empty zone may be a zone without listeners, "
            "and a report from close by may have come by ground wave."
        )
    ),
    corroborated=(
        Phrase(
            "A locator is corroborated where the callsign's country agrees with it, or where a listener without a callsign "
            "reported in two different hours, as strongly as others did from that far."
        )
    ),
    corroborated_by=Phrase("the callsign's country agrees, or steady reports do"),
)
HEARD: Final = Ends(
    direction="heard",
    named=Phrase("what it heard of others"),
    far=Phrase("transmitter"),
    far_many=Phrase("transmitters"),
    far_people=Phrase("transmitters"),
    where=Phrase("Where from"),
    where_heard=Phrase("It heard"),
    reports_came=Phrase("what was heard"),
    most_often=Phrase("Signals were heard most often"),
    came=Phrase("Signals were heard"),
    all_came=Phrase("All was heard"),
    farthest_heard=Phrase("the farthest heard was"),
    it_heard=Phrase("It heard"),
    reached=Phrase("it heard farthest"),
    nobody=Phrase("nobody transmits there"),
    silent=Phrase("an hour without listening"),
    no_far_end=(
        Phrase(
            "Where nobody transmits nothing is heard: an empty direction is no proof that the antenna is deaf that way."
        )
    ),
    on_the_air=Phrase("in use"),
    better=Phrase("better"),
    share_of=Phrase("what it heard"),
    stayed=Phrase("came from"),
    hour_caution=(
        Phrase(
            "Hours in which nobody was heard are not counted, because reports do not tell whether the station was "
            "listening "
            "then."
        )
    ),
    skip_caution=(
        Phrase(
            "Observed, not proved: where nobody transmits nobody is heard, so an empty zone may be a zone without "
            "transmitters, and a signal from close by may have come by ground wave."
        )
    ),
    corroborated=Phrase("A locator is corroborated where the callsign's country agrees with it."),
    corroborated_by=Phrase("the callsign's country agrees"),
)

# What a comparison of receiving antennas must say beside its finding: SNR is a ratio of two things.
SIGNAL_AND_NOISE: Final = Phrase(
    "A difference in SNR received is signal and noise together: an antenna that picks up less noise comes out ahead "
    "though no signal is stronger with it."
)


def ends(of: Directed) -> Ends:
    """The words for findings, a comparison or a study."""
    return HEARD if of.direction == "heard" else SENT


def column_name(name: str, words: Ends) -> str:
    """What a column is called in files and tables for people: 'tx_call' for the 'rx_call' of a station that heard."""
    if words is SENT:
        return name
    swap = {"rx_": "tx_", "tx_": "rx_"}
    return swap[name[:3]] + name[3:] if name[:3] in swap else name.replace("receivers", "transmitters")


def as_written(table: pd.DataFrame, words: Ends) -> pd.DataFrame:
    """A table with its columns named for what they hold, for files: where the station heard, the far end transmitted.

    table : columns of the far end begin with rx_, of the station with tx_
    Returns the very table where the station sent; else one with both prefixes exchanged, in the same order.
    """
    if words is SENT:
        return table
    return table.rename(columns={name: column_name(name, words) for name in table.columns})
