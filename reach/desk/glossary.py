"""Words of the desk's screens, explained where they are met. A screen names those it uses in its template's block `words`."""

from __future__ import annotations

from typing import Final

WORDS: Final = {
    "study": "A question about your station with what may answer it: your exports, what you say of the station, your decisions, the report. It is a folder.",
    "export": "A file of reception reports as you downloaded it, with commas or the like between its cells (CSV); it may be packed.",
    "collection": "The rows of many exports in a folder of the study, read and judged once. It grows by a file at a time and is never read anew.",
    "reception report": "One line of an export: one receiver heard one transmission, at a time, on a frequency, so strong. Also called a spot.",
    "accepted": "Rows that are sound and count in the answer.",
    "rejected": "Rows that cannot be used, each with the reason: a locator that is none, a time that no clock has. They stay in your file.",
    "duplicates": "Rows that say again what another row says: the same receiver, the same transmission. Each counts once.",
    "set aside": "Rows that are sound and not about this question: of another transmitter, of the other direction, outside the period or the bands.",
    "zone": "How far the clock of a file is from UTC, the time that radio amateurs share. +01:00 is one hour ahead of it.",
    "callsign": "The name that a station transmits with, such as EI4QTB. A stroke behind it, as in EI4QTB/P, says that it is portable.",
    "locator": "A place on the map in a few characters, such as IO51es: with six of them it is true to some kilometres.",
    "power": "What the radio puts out, in watts. What reaches the antenna is less, by what the feedline loses.",
    "doubtful locator": "Well formed and probably wrong: at sea, in another country than the callsign's, far from where it was a minute ago.",
    "malformed": "What stands for a locator and is none: a letter where a digit must be, too few characters.",
    "headline distance": "A distance that the answer gives: the farthest, that which one report in ten exceeds, that which half of them exceed.",
    "interval": "Two numbers beside a figure: with other receivers like these it would probably have come out between them, nineteen times in twenty.",
    "SNR": "How far a signal stands above the noise, in decibels, in a bandwidth of 2,500 Hz. Narrow digital modes are read far below zero.",
    "corroborated": "A receiver whose place other things agree with: its callsign's country, many hours of reports. Records count from these alone.",
    "handout": "One sheet to print for the evening, with the answer and the main pictures.",
    "setup": "An antenna with its feedline and power.",
    "control station": "Another station, near yours, that changed nothing: what happened to its signal, the band did.",
    "yardstick": "A control station against which the level of your signal is followed from day to day.",
    "SWR": "How well an antenna fits its feedline: 1 is perfect, at 2 a ninth of the power comes back. At the radio a lossy line shows less of it.",
}
