"""What each section of the page says, as plain values for the frame. It formats what the Findings knows."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from reach.base import bands, words
from reach.base.installed import version_of
from reach.base.tongue import Phrase
from reach.base.words import PRINT
from reach.draw import captions
from reach.findings import Findings
from reach.measure import conditions as by_condition
from reach.radio import hops
from reach.radio.feedline import Line
from reach.radio.power import Budget
from reach.spots import SEVERITIES, SUSPECT
from reach.study import Match, Setup
from reach.tell.sentences import calendar as calendar_words
from reach.tell.sentences import cautions, local_time, notes
from reach.tell.sentences import power as power_words
from reach.tell.sentences import problems as about_rows
from reach.tell.sentences import reach as answers
from reach.tell.sentences import season as season_words
from reach.tell.sentences import suspects as about_suspects
from reach.tell.sentences.direction import column_name, ends

if TYPE_CHECKING:
    from reach.base.local_time import LocalTime

MOST_SUSPECTS: Final = 24  # with a map each; the table has all of them
MOST_ROWS: Final = 300  # of a table that travels in the page; the files beside it have all
DIGITS: Final = 3  # of numbers in tables: a metre, a thousandth of a dB
_SUSPECT_COLUMNS: Final = [
    name for name in about_suspects.WRITTEN if not name.endswith("_deg") and name not in ("grade", "evidence")
]
_SEVERITIES: Final = {"rejected": Phrase("rejected"), "suspect": Phrase("suspect"), "note": Phrase("note")}
_DARKNESS: Final = {
    name: name
    for name in (
        Phrase("daylight all along"), Phrase("less than half dark"), Phrase("half or more dark"), Phrase("dark all along"),
    )
}  # fmt: skip
_LIBRARIES: Final = ("numpy", "pandas", "pyproj", "maidenhead", "shapely", "scipy", "jinja2")


def quality(findings: Findings) -> dict[str, Any]:
    """Where every row went, and what was found by rule."""
    counts = findings.counts
    counted = findings.wrong.counted
    read, fates = words.count(counts.read), notes.fates(counts, PRINT)
    return {
        "read": read,
        "fates": fates,
        "sum_in_words": words.text(
            "{read} rows read are {fates}",
            read=read,
            fates=words.PRINT.listed([f"{count} {name}" for name, count in fates]),
        ),
        "notes": [
            *(notes.note(each, words.PRINT) for each in findings.notes),
            *filter(None, [captions.replaced(findings)]),
        ],
        "rules": [(_SEVERITIES[severity], _rules(counted, severity)) for severity in SEVERITIES],
        "clean": not counted,
    }


def _rules(counted: Mapping[tuple[str, str], int], severity: str) -> list[tuple[str, str]]:
    """Rule and number of rows, the most frequent first."""
    return [(about_rows.name(rule), words.count(rows)) for (rule, of), rows in counted.items() if of == severity]


def suspects(findings: Findings) -> dict[str, Any]:
    """The suspects that the page shows with a map, heaviest first."""
    table = findings.suspects
    shown = [
        {
            "call": each["rx_call"],
            "locator": each["rx_locator"],
            "sentence": about_suspects.sentence(each, say=PRINT),
            "suggestion": about_suspects.suggestion(each, say=PRINT),
            "weight": about_suspects.weight(each, say=PRINT),
            "evidence": about_suspects.in_the_balance(each["evidence"], say=PRINT),
        }
        for each in table.head(MOST_SUSPECTS).to_dict("records")
    ]
    sentence = words.PRINT.plural(
        len(table),
        "{n} locator is suspect, behind {reports}; those that would change the result most come first. Nothing was changed.",
        "{n} locators are suspect, behind {reports}; those that would change the result most come first. Nothing was changed.",
        reports=words.things(int(table["reports"].sum()), "report"),
    )
    if len(table) > MOST_ROWS:
        sentence += words.text(
            " The {shown} heaviest are shown; the table has the first {first}, suspects.csv beside this page all.",
            shown=MOST_SUSPECTS,
            first=words.count(MOST_ROWS),
        )
    elif len(table) > MOST_SUSPECTS:
        sentence += words.text(" The {shown} heaviest are shown; the table has all.", shown=MOST_SUSPECTS)
    return {"shown": shown, "sentence": sentence}


def suspect_places(findings: Findings) -> list[dict[str, Any]]:
    """Where each suspect shown claims to be and where it probably is (None: no suggestion), for its small map."""
    return [
        {
            "claimed": _place(each["rx_locator"], each["claimed_lon_deg"], each["claimed_lat_deg"]),
            "likely": _place(each["suggestion"], each["probable_lon_deg"], each["probable_lat_deg"]),
        }
        for each in findings.suspects.head(MOST_SUSPECTS).to_dict("records")
    ]


def _place(locator: str, lon_deg: float, lat_deg: float) -> dict[str, Any] | None:
    return None if pd.isna(lon_deg) or not locator else {"locator": locator, "lon": lon_deg, "lat": lat_deg}


def tables(findings: Findings, sound: pd.DataFrame) -> list[dict[str, Any]]:
    """The tables that travel in the page, for the viewer. sound : as `sound` gives it"""
    solar = by_condition.by_solar_hour(sound)
    solar = solar[(solar["reports"] > 0).to_numpy()]
    # Words are made for the rows that are shown, not for all: a large export has a hundred thousand problems.
    way = ends(findings)
    rows = about_rows.written(findings.wrong.head(MOST_ROWS), say=PRINT, way=way)
    rows = rows.assign(rule=rows["rule"].map(about_rows.name))
    doubted = about_suspects.written(findings.suspects.head(MOST_ROWS), say=PRINT)
    name = words.text("Rows rejected, suspected or noted")
    made = [
        _table(name, "problems", rows, list(about_rows.WRITTEN), of=len(findings.wrong)),
        _table(words.text("Suspects"), "suspects", doubted, _SUSPECT_COLUMNS, of=len(findings.suspects)),
        _table(
            words.text("Nearest reports by band and hour"), "nearest", by_condition.skip(sound), list(by_condition.SKIP)
        ),
        _table(
            words.text("Reach by local solar hour at the station"),
            "solar-hours",
            solar,
            list(by_condition.BY_SOLAR_HOUR),
        ),
        _table(
            words.text("Reach by day and night at both ends"),
            "ends",
            by_condition.by_ends(sound),
            list(by_condition.BY_ENDS),
        ),
    ]
    if findings.season is not None:
        days = season_words.days(findings.season)
        made.append(_table(words.text("Level of the station, day by day"), "season", days, list(days.columns)))
    if findings.calendar is not None:
        names = (words.text("Day by day"), words.text("Hours of each band"), words.text("The farthest over the period"))
        for name, (file, counted) in zip(names, calendar_words.written(findings.calendar).items(), strict=True):
            made.append(_table(name, file, _plain(counted), list(counted.columns), of=len(counted)))
    for table in made:
        for column in table["columns"]:
            column["name"] = column_name(column["name"], way)
    return made


def _plain(table: pd.DataFrame) -> pd.DataFrame:
    """The table with its days as text."""
    days = [name for name in ("day", "first_day") if name in table]
    return table.assign(**{name: table[name].astype(str) for name in days})


def conditions(findings: Findings, sound: pd.DataFrame) -> dict[str, Any]:
    """Best hours to each direction and reach by darkness of the path, from spots that are no suspects, as `sound` gives them."""
    best = by_condition.best_hours(sound)
    apart = best[best["apart"].to_numpy()]
    dark = by_condition.by_darkness(sound)
    return {
        "best": [_best_hour(row, findings.local_time) for row in apart.to_dict("records")],
        "others": len(best) - len(apart),
        "darkness": [
            {
                "band": row["band"],
                "darkness": _DARKNESS[row["darkness"]],
                "reports": words.count(row["reports"]),
                "receivers": words.count(row["receivers"]),
                "median": words.PRINT.beyond(row["median_km"]),
            }
            for row in dark[(dark["reports"] > 0).to_numpy()].to_dict("records")
        ],
        "geometry": _geometry(findings),
        "hour_caution": ends(findings).hour_caution,
        "skip_caution": ends(findings).skip_caution,
    }


def _geometry(findings: Findings) -> str:
    """The fewest hops to the headline's farthest receiver, called geometry; empty where there is none, or where it was hardly
    the ionosphere that carried the signal."""
    far = findings.reach.headline.farthest
    if far is None:
        return ""
    middles_mhz = [bands.middle_mhz(band) or 0.0 for band in far.bands]
    if not any(hops.may_be_mirrored(far.distance_km, middle_mhz) for middle_mhz in middles_mhz):
        return ""
    return words.text(
        "To {call}: {hops} {geometry}",
        call=far.call,
        hops=power_words.fewest_hops(far.distance_km, words.PRINT),
        geometry=power_words.GEOMETRY,
    )


def _best_hour(row: dict[Any, Any], local: LocalTime | None) -> dict[str, str]:
    runner_up = f"{row['next_hour_utc']:02d}:00 ({words.number(row['next_receivers_a_day'])})"
    return {
        "band": row["band"],
        "towards": f"{row['sector_deg']}° ({words.compass(row['sector_deg'])})",
        "hour": local_time.hours(f"{row['best_hour_utc']:02d}:00", local, [row["best_hour_utc"]]),
        "receivers": words.number(row["receivers_a_day"]),
        "next": runner_up if row["next_hour_utc"] >= 0 else "",
        "counts": [words.count(row[name]) for name in ("reports", "receivers", "days")],
    }


def sound(findings: Findings) -> pd.DataFrame:
    """The spots, each counted once; those of suspects not at all, as leaving them out would copy all the others."""
    trusted = (findings.spots["trust"] != SUSPECT).to_numpy()
    return by_condition.numbered(findings.spots.assign(reports=trusted.astype(np.int8)))


def _table(name: str, file: str, table: pd.DataFrame, columns: list[str], *, of: int | None = None) -> dict[str, Any]:
    """A table for the viewer. of : how many rows there are, where the table holds the first of them only."""
    many = len(table) if of is None else of
    cut = {"first": words.count(MOST_ROWS), "all": words.count(many)}
    more = words.text(" (the first {first} of {all})", **cut) if many > MOST_ROWS else ""
    numbers = [pd.api.types.is_numeric_dtype(table[column]) for column in columns]
    rows = table[columns].head(MOST_ROWS).round(DIGITS).astype(object)
    return {
        "name": name + more,
        "file": file,
        "of": many,
        "beside": f"{file}.csv" if of is not None else "",
        "columns": [{"name": column, "number": number} for column, number in zip(columns, numbers, strict=True)],
        "rows": rows.where(rows.notna(), None).to_numpy().tolist(),
    }


def station(findings: Findings) -> dict[str, Any]:
    """Setups, power at the antenna, cautions."""
    powers = answers.powers(findings)
    return {
        "setups": [_setup(findings, name, each) for name, each in (findings.study.setups or {"": Setup()}).items()],
        "budgets": [_budget(*key, budget) for key, budget in findings.budgets.items()],
        "cautions": cautions.cautions(powers[-1] if powers else cautions.USUAL_W, words.PRINT),
        "closing": cautions.CLOSING,
    }


def _budget(setup: str, band: str, budget: Budget) -> dict[str, str]:
    finding, *why = power_words.budget(budget, words.PRINT)
    return {"setup": setup or words.text("not named"), "band": band, "text": finding, "why": " ".join(why)}


def _setup(findings: Findings, name: str, setup: Setup) -> dict[str, str]:
    power = findings.study.power_w(name)
    parts = []
    if setup.cable is not None:
        parts.append(power_words.line(Line.of(setup.cable), words.PRINT))
    parts += _match(setup)
    for band, match in setup.bands.items():
        parts += [words.text("{match} on {band}", match=told, band=band) for told in _match(match)]
    return {
        "name": name or words.text("not named"),
        "antenna": setup.antenna or words.text("not said"),
        "line": ", ".join(parts) or words.text("not said"),
        "power": words.watt(power) if power is not None else words.text("not said"),
    }


def _match(match: Match) -> list[str]:
    """What is known of it, at most one phrase: 'SWR 1.4 at the antenna'."""
    if match.swr is not None:
        return [words.text("SWR {swr} at the antenna", swr=words.PRINT.plain(match.swr))]
    if match.resistance_ohm is None or match.reactance_ohm is None:
        return []
    sign = "+" if match.reactance_ohm >= 0 else words.MINUS
    return [
        words.text(
            "{r} {sign} j{x}{gap}ohm at the antenna",
            r=words.PRINT.plain(match.resistance_ohm),
            sign=sign,
            x=words.PRINT.plain(abs(match.reactance_ohm)),
        )
    ]


def provenance(findings: Findings) -> dict[str, Any]:
    """Inputs with their hashes, options, versions."""
    asked = findings.study.options.model_dump()
    asked |= {"schedule": findings.study.schedule, "fixed rows": findings.fixed_rows}
    return {
        "inputs": findings.inputs,
        "options": [(name.replace("_", " "), _said(value)) for name, value in asked.items()],
        "versions": [("reach", version()), ("Python", platform.python_version()), *_versions()],
    }


def _said(value: Any) -> str:
    if value is None or value == {}:
        return words.text("not set")
    if isinstance(value, bool):
        return words.text("yes") if value else words.text("no")
    if isinstance(value, dict):
        return ", ".join(f"{key} = {each}" for key, each in value.items())
    return str(value)


def version() -> str:
    """The version of this project; "unknown" where it is not installed."""
    return version_of("reach", otherwise="unknown")


def _versions() -> list[tuple[str, str]]:
    return [(name, version_of(name)) for name in _LIBRARIES]
