"""From a table of spots to what a comparison works on: the rows of A and of B, who is one receiver and where it stands, the
sorted reports made of them with their limits and their design, what can be said of these whatever the verdict, and the small tables behind a result.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.assign import frequencies
from reach.assign import schedule as schedules
from reach.assign.clock import ClockFit
from reach.assign.powers import Powers, Told
from reach.base import keys
from reach.compare import comparison, estimate
from reach.compare import design as designs
from reach.compare.comparison import Block, Comparison, DesignKind, Heard, LeftOut, Note, Receiver, Remark, Value
from reach.compare.design import Alternation, block_numbers
from reach.compare.estimate import LEAST_SHARE, Contrasts, Fit, Limits
from reach.compare.reports import Bools, Cleaned, Floats, Ints, Reports, clean
from reach.errors import CompareError, LocatorError

PLACE: Final = ("rx_lon_deg", "rx_lat_deg", "distance_km", "bearing_deg")
SQUARE_CHARACTERS: Final = 4
NEEDED: Final = ("time_utc", "rx_call", "rx_locator", "snr_db", "band")
MANY_DUPLICATES: Final = 0.02
TWO_SIDED: Final = 1.96  # receivers' own intervals stand on the variance pooled over all, so the normal curve will do


@dataclass(frozen=True)
class Labelled:
    """The rows of A and B.

    spots     those rows of the table, in their order
    is_a      shape (n,)
    told_by   what told the setups apart: setup | schedule | tx_call | freq_mhz
    slots     start [us since 1970] and is-A of the schedule's rows for A or B, or None
    left_out  why rows were left out: how many
    row       which rows of the table they are
    """

    spots: pd.DataFrame
    is_a: Bools
    told_by: str
    slots: tuple[Ints, Bools] | None
    left_out: dict[LeftOut, int]
    row: Ints


def label(
    spots: pd.DataFrame, a: str, b: str, schedule: pd.DataFrame | None = None, *, unheard: bool = False
) -> Labelled:
    """Find the reports of A and of B.

    spots : any table with the columns NEEDED, and `setup` where there is no schedule
    a, b : names of setups; or, with both on the air at once, two callsigns of `tx_call`, or two frequencies in MHz
    schedule : schedules.SCHEDULE; replaces `setup`
    unheard : both are known to be setups, whether or not a row is theirs
    Returns Labelled. CompareError where a column is missing, a and b are the same, or there is nothing called so.
    """
    if a == b:
        raise CompareError(f"a comparison needs two different setups, not {a!r} twice")
    needed(spots, "a comparison needs")
    table = spots if schedule is None else schedules.assign(spots, schedule)
    if unheard and "setup" in table.columns and not {a, b} & set(_names(table["setup"])):
        told_by, names = "schedule", table["setup"]
    else:
        told_by, names = _told_apart(table, a, b, schedule is not None)
    complete = table[list(NEEDED)].notna().all(axis=1).to_numpy()
    is_a, is_b = (names == a).to_numpy(bool), (names == b).to_numpy(bool)
    none = names.isna().to_numpy()
    unnamed = LeftOut.OUTSIDE_SCHEDULE if schedule is not None else LeftOut.NO_SETUP
    left_out = {
        unnamed: int(none.sum()),
        LeftOut.OTHER_SETUP: int((~none & ~is_a & ~is_b).sum()),
        LeftOut.INCOMPLETE: int(((is_a | is_b) & ~complete).sum()),
    }
    use = (is_a | is_b) & complete
    return Labelled(
        spots=table[use],
        is_a=is_a[use],
        told_by=told_by,
        slots=_slots(schedule, a, b),
        left_out={why: count for why, count in left_out.items() if count},
        row=np.flatnonzero(use),
    )


def power(labelled: Labelled, powers: Powers | None, power_difference_db: float | None) -> tuple[Floats, float | None]:
    """What to take off each labelled row [dB, above the same power for all], and the difference of A and B by it."""
    if powers is None or powers.told == Told.GIVEN:
        return labelled.is_a.astype(float) * (power_difference_db or 0.0), power_difference_db
    if powers.level_dbm is None:
        return np.zeros(len(labelled.is_a)), powers.difference_db
    return powers.level_dbm[labelled.row], powers.difference_db


def told(powers: Powers | None, clock: ClockFit | None) -> tuple[Remark | None, Remark | None]:
    """What a Comparison says of powers and clock."""
    power = None
    if powers is not None:
        known: dict[str, Value] = {"at": powers.at, "line_db": powers.line_db, **powers.values}
        if powers.difference_db is not None:
            known["difference_db"] = powers.difference_db
        power = Remark(powers.told, known)
    return power, None if clock is None else Remark(clock.code, clock.values)


def needed(spots: pd.DataFrame, who: str) -> None:
    """CompareError, beginning with `who`, where a column of NEEDED is missing."""
    for name in NEEDED:
        if name not in spots.columns:
            raise CompareError(f"{who} the column {name!r}; there are {', '.join(map(str, spots.columns))}")


def names_of(spots: pd.DataFrame, a: str, b: str) -> pd.Series:
    """Under which name each row was sent: its setup, its callsign or its frequency, whichever tells A from B."""
    return _told_apart(spots, a, b, False)[1]


def _slots(schedule: pd.DataFrame | None, a: str, b: str) -> tuple[Ints, Bools] | None:
    if schedule is None:
        return None
    rows = schedule[schedule["setup"].isin([a, b])]
    return schedules.micros(rows["start"]), (rows["setup"] == a).to_numpy(bool)


def _told_apart(table: pd.DataFrame, a: str, b: str, scheduled: bool) -> tuple[str, pd.Series]:
    """Which column names the setups, and its names row by row."""
    if "setup" in table.columns:
        column = table["setup"]
        known = _names(column)
        if a in known and b in known:
            return "schedule" if scheduled else "setup", column
    elif scheduled is False and "tx_call" not in table.columns and "freq_mhz" not in table.columns:
        raise CompareError("a comparison needs the column 'setup', or a schedule with start, end and setup")
    if "tx_call" in table.columns and {a, b} <= set(_names(table["tx_call"])):
        return "tx_call", table["tx_call"]
    near = _by_frequency(table, a, b)
    if near is not None:
        return "freq_mhz", near
    return _one_unheard(table, a, b)


_NO_SETUP: Final = (
    "no spot has one: say what was on when in a schedule with start, end, setup, or in sessions of a study"
)


def _one_unheard(table: pd.DataFrame, a: str, b: str) -> tuple[str, pd.Series]:
    """One setup there and the other not: never reported, unless its name is nearly another's or nothing is known."""
    known = _names(table["setup"]) if "setup" in table.columns else []
    there = f"there are {', '.join(map(repr, known))}" if known else _NO_SETUP
    for absent in (name for name in (a, b) if name not in known):
        near = difflib.get_close_matches(absent, known)
        if near:
            raise CompareError(f"no setup is called {absent!r}; did you mean {near[0]!r}?")
        if not {a, b} & set(known):
            raise CompareError(f"no setup is called {absent!r}; {there}")
    return "setup", table["setup"]


def _names(column: pd.Series) -> list[str]:
    """Names in a column; of a category column all it knows, heard or not."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        return [str(name) for name in column.cat.categories]
    return sorted(str(name) for name in column.dropna().unique())


def _by_frequency(table: pd.DataFrame, a: str, b: str) -> pd.Series | None:
    """The nearer of two frequencies for every spot; null farther off than half of what they are apart, and in the middle."""
    of = frequencies.two((a, b))
    if "freq_mhz" not in table.columns or of is None:
        return None
    side = frequencies.nearer(table["freq_mhz"].to_numpy(float), of)
    if (side < 0).all():
        return None
    return pd.Series(np.where(side == 0, a, b), index=table.index).where(side >= 0)


def channels(spots: pd.DataFrame) -> tuple[Ints, Ints]:
    """Band and mode of each row as one code, and the mode alone: only reports of one of both are compared."""
    band = pd.factorize(spots["band"], sort=True)[0].astype(np.int64)
    if "mode" not in spots.columns:
        return band, np.zeros_like(band)
    mode, modes = pd.factorize(spots["mode"], sort=True, use_na_sentinel=False)  # rows without one are of one mode too
    return band * len(modes) + mode, mode.astype(np.int64)


def snr(column: pd.Series) -> Floats:
    """As float64, whatever it came as."""
    return column.to_numpy(float)


@dataclass(frozen=True)
class Evidence:
    """What every step works on, all of the same reports.

    a, b      names of the setups
    labelled  the rows of the table behind it; cleaned : the reports made of them
    who       as `receivers` gives it, row = receiver number
    limit     between which levels reports are complete
    design    how the setups took turns
    """

    a: str
    b: str
    labelled: Labelled
    cleaned: Cleaned
    who: pd.DataFrame
    limit: Limits
    design: Alternation

    @property
    def reports(self) -> Reports:
        return self.cleaned.reports

    @property
    def spots(self) -> pd.DataFrame:
        """The rows of the table behind the reports, in their order."""
        return self.labelled.spots.iloc[self.cleaned.row]


def gather(labelled: Labelled, a: str, b: str, power_db: Floats, decoding_limit_db: float | None) -> Evidence:
    """Everything that the rows of A and B are evidence for. Needs rows of both.

    power_db : power of each of the labelled rows above a common reference, taken off [dB]; others as `compare` has them
    """
    spots = labelled.spots
    code, who = receivers(spots)
    channel, mode = channels(spots)
    cleaned = clean(schedules.micros(spots["time_utc"]), code, channel, labelled.is_a, snr(spots["snr_db"]), power_db)
    slots = None
    if labelled.slots is not None:
        slots = (labelled.slots[0] - cleaned.start_us) / 60e6, labelled.slots[1]
    return Evidence(
        a,
        b,
        labelled,
        cleaned,
        who,
        estimate.limits(cleaned.reports.snr_db, cleaned.reports.receiver, mode[cleaned.row], decoding_limit_db),
        designs.alternation(cleaned.reports, slots),
    )


def nothing(labelled: Labelled, a: str, b: str) -> Comparison:
    """A Comparison that cannot tell, with the counts of the rows and nothing else."""
    spots_a = int(labelled.is_a.sum())
    return comparison.cannot_tell(a, b, (spots_a, len(labelled.is_a) - spots_a), labelled.left_out)


def known(evidence: Evidence) -> Comparison:
    """What can be said whatever the verdict."""
    r = evidence.reports
    rows = by_receiver(r, evidence.who, None)
    left_out = dict(evidence.labelled.left_out)
    if evidence.cleaned.duplicates:
        left_out[LeftOut.DUPLICATE] = evidence.cleaned.duplicates
    return replace(
        nothing(evidence.labelled, evidence.a, evidence.b),
        spots=len(r),
        spots_a=int(r.is_a.sum()),
        spots_b=int((~r.is_a).sum()),
        notes=_notes(evidence),
        left_out=left_out,
        design=design_of(evidence, kind_of(evidence.design)),
        naive_difference_db=naive_db(r),
        heard=heard(rows),
        near_limit=float(np.mean(r.snr_db < evidence.limit.threshold_db)),
        by_receiver=rows,
        by_block=by_block(r, evidence.design, None, (evidence.a, evidence.b), evidence.cleaned.start_us),
    )


def naive_db(r: Reports) -> float:
    """Mean report of A minus mean report of B, not corrected for anything."""
    return float(r.snr_db[r.is_a].mean() - r.snr_db[~r.is_a].mean())


def kind_of(design: Alternation) -> DesignKind:
    """What kind of design it is, as far as changes from block to block go."""
    if design.simultaneous:
        return DesignKind.SIMULTANEOUS
    return DesignKind.CONFOUNDED if design.confounded else DesignKind.ALTERNATING


def design_of(evidence: Evidence, kind: DesignKind) -> comparison.Design:
    """The design as the result shows it."""
    r, d = evidence.reports, evidence.design
    start = evidence.cleaned.start_us
    return comparison.Design(
        kind=kind,
        period_min=d.period_min if np.isfinite(d.period_min) else None,
        within_min=d.within_min,
        stretches_a=d.runs_a,
        stretches_b=d.runs_b,
        overlap=designs.overlap(r, 0.0 if d.simultaneous else d.within_min),
        bands=None if d.turns is None else d.turns.bands,
        stay_min=None if d.turns is None else d.turns.stay_min,
        return_min=None if d.turns is None else d.turns.return_min,
        hours=designs.on_air_min(r.time_min) / 60,
        days=len(np.unique(np.floor(r.time_min / 1440))),
        first_utc=iso(start, float(r.time_min.min())),
        last_utc=iso(start, float(r.time_min.max())),
        told_by=evidence.labelled.told_by,
    )


def _notes(evidence: Evidence) -> tuple[Remark, ...]:
    said = []
    if np.isfinite(evidence.limit.ceiling_db):
        said.append(Remark(Note.SATURATED, {"ceiling_db": evidence.limit.ceiling_db}))
    share = evidence.cleaned.duplicates / max(len(evidence.labelled.is_a), 1)
    if share > MANY_DUPLICATES:
        said.append(Remark(Note.REPEATED, {"share": share}))
    return tuple(said)


def by_receiver(reports: Reports, who: pd.DataFrame, found: Fit | None) -> tuple[Receiver, ...]:
    """One row a receiver, those with most weight first.

    who : as `receivers` gives it; row = receiver number
    """
    n = len(who)
    of_a = np.bincount(reports.receiver, reports.is_a, minlength=n).astype(int)
    of_b = np.bincount(reports.receiver, ~reports.is_a, minlength=n).astype(int)
    pairs, weight, mean, error = _own(reports, found, n)
    heard = np.where(of_b == 0, "a", np.where(of_a == 0, "b", "both"))
    rows = []
    for k, one in enumerate(who.to_dict("records")):
        some = pairs[k] > 0
        rows.append(
            Receiver(
                rx_call=str(one["rx_call"]),
                square=str(one["square"]),
                rx_locator=str(one["rx_locator"]),
                heard=str(heard[k]),
                reports_a=int(of_a[k]),
                reports_b=int(of_b[k]),
                pairs=int(pairs[k]),
                weight=float(weight[k]),
                difference_db=float(mean[k]) if some else None,
                low_db=float(mean[k] - TWO_SIDED * error[k]) if some else None,
                high_db=float(mean[k] + TWO_SIDED * error[k]) if some else None,
                trust=None if pd.isna(one["trust"]) else str(one["trust"]),
                **{name: None if np.isnan(one[name]) else float(one[name]) for name in PLACE},
            )
        )
    return tuple(sorted(rows, key=lambda r: (-r.weight, -r.pairs, r.rx_call, r.square)))


def _own(reports: Reports, found: Fit | None, n: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Pairs, weight, own difference and its standard error of each receiver; its bands weighted by what their pairs are worth."""
    if found is None:
        return np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    pooled = found.pooled
    first = np.searchsorted(reports.unit, pooled.unit)
    receiver = reports.receiver[first]
    pairs = np.bincount(receiver, pooled.pairs, minlength=n).astype(float)
    weight = np.bincount(receiver, pooled.weight, minlength=n)
    worth = np.bincount(receiver, pooled.worth, minlength=n)
    share = pooled.worth / worth[receiver]
    mean = np.bincount(receiver, share * pooled.own_db, minlength=n)
    variance = np.bincount(receiver, share**2 * pooled.own_variance, minlength=n)
    return pairs, weight.astype(float), mean.astype(float), found.inflation * np.sqrt(variance)


def receiver_means(reports: Reports, found: Fit) -> Floats:
    """Own difference of every receiver with pairs [dB]."""
    pairs, _, mean, _ = _own(reports, found, keys.room(reports.receiver))
    return mean[pairs > 0]


def heard(rows: tuple[Receiver, ...]) -> Heard:
    """Receivers by what they heard."""
    named = {which: [f"{r.rx_call} {r.square}" for r in rows if r.heard == which] for which in ("a", "b", "both")}
    return Heard(*(tuple(sorted(named[which])) for which in ("a", "b", "both")))


def by_block(
    reports: Reports, design: Alternation, pairs: Contrasts | None, names: tuple[str, str], start_us: int
) -> tuple[Block, ...]:
    """One row a stretch on one setup, in time order.

    names : of A and B; start_us : the moment that `time_min` counts from
    """
    if not len(reports):
        return ()
    number = block_numbers(reports, design)
    present, which = np.unique(number, return_inverse=True)
    count = np.bincount(which)
    first, last = np.full(len(present), np.inf), np.full(len(present), -np.inf)
    np.minimum.at(first, which, reports.time_min)
    np.maximum.at(last, which, reports.time_min)
    is_a = np.bincount(which, reports.is_a) > count / 2
    m, mean, error = _block_means(pairs, which, len(present))
    rows = []
    for k in range(len(present)):
        some = m[k] >= 2
        rows.append(
            Block(
                start_utc=iso(start_us, first[k]),
                end_utc=iso(start_us, last[k]),
                setup="both" if design.simultaneous else names[0] if is_a[k] else names[1],
                reports=int(count[k]),
                pairs=int(m[k]),
                difference_db=float(mean[k]) if some else None,
                low_db=float(mean[k] - TWO_SIDED * error[k]) if some else None,
                high_db=float(mean[k] + TWO_SIDED * error[k]) if some else None,
            )
        )
    return tuple(rows)


def _block_means(pairs: Contrasts | None, block: Ints, n: int) -> tuple[Floats, Floats, Floats]:
    if pairs is None:
        return np.zeros(n), np.zeros(n), np.zeros(n)
    of = block[pairs.row]
    count = np.bincount(of, minlength=n).astype(float)
    total = np.maximum(np.bincount(of, pairs.share, minlength=n), LEAST_SHARE)
    mean = np.bincount(of, pairs.share * pairs.difference_db, minlength=n) / total
    squares = np.bincount(of, pairs.share * (pairs.difference_db - mean[of]) ** 2, minlength=n) / total
    return count, mean, np.sqrt(squares / np.maximum(count - 1, 1))


def iso(start_us: int, minutes: float) -> str:
    """A moment as ISO 8601 in UTC, to the second."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=int(start_us + round(minutes * 60e6)))
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


# ----------------------------------------------------------------------------------------------------- who is one receiver


def receivers(spots: pd.DataFrame) -> tuple[Ints, pd.DataFrame]:
    """Who is one receiver: a callsign in one locator square, so that two stations under one callsign stay two.

    Returns (code of each row, shape (n,), in order of the names; table, row = code: rx_call, square, rx_locator, PLACE, `trust`). A receiver
    may have been given as several locators of its square. It stands at the one that most of its reports carry, the first
    in text order among equals, and every number about its place belongs to that locator. NaN and None where not known.
    """
    call, calls = _on_vocabulary(spots["rx_call"], str.upper)
    square, squares = _on_vocabulary(spots["rx_locator"], square_of)
    there, code = keys.distinct(
        *keys.combine([(call, len(calls)), (square, len(squares))])
    )  # whatever the order of the rows
    of_call, of_square = keys.split(there, [len(calls), len(squares)])
    chosen = _standing(spots, code)
    at = spots.iloc[chosen]
    place = _places(at)
    trust = at["trust"].astype(object).to_numpy() if "trust" in at.columns else np.full(len(at), None, dtype=object)
    told = {
        "rx_call": calls[of_call],
        "square": squares[of_square],
        "rx_locator": at["rx_locator"].astype(str).to_numpy(),
    }
    return code, pd.DataFrame({**told, **place, "trust": trust})


def square_of(locator: str) -> str:
    """The square that a locator lies in: JN58td -> JN58."""
    return locator[:SQUARE_CHARACTERS].upper()


def _on_vocabulary(column: pd.Series, change: Callable[[str], str]) -> tuple[Ints, npt.NDArray[np.object_]]:
    """(code of each row, what the codes stand for, in order of text) of a text column without nulls, changed once a distinct text."""
    texts = column.astype("category").cat
    changed = [change(str(name)) for name in texts.categories]
    names = sorted(set(changed))
    number = {name: k for k, name in enumerate(names)}
    to = np.array([number[name] for name in changed], dtype=np.int64)
    return to[texts.codes.to_numpy()], np.array(names, dtype=object)


def _standing(spots: pd.DataFrame, code: Ints) -> Ints:
    """For each receiver a row that carries the locator it stands at (and, of these, the station's usual locator)."""
    rx, rx_names = _on_vocabulary(spots["rx_locator"], str)
    parts = [(code, keys.room(code)), (rx, len(rx_names))]
    if "tx_locator" in spots.columns:
        tx = spots["tx_locator"].astype("category").cat
        rank = np.append(np.argsort(np.argsort([str(name) for name in tx.categories], kind="stable")) + 1, 0)
        parts.append((rank[tx.codes.to_numpy()].astype(np.int64), len(rank)))  # code -1, none, takes the last
    distinct, first, count = np.unique(keys.combine(parts)[0], return_index=True, return_counts=True)
    its, its_rx, *its_tx = keys.split(distinct, [size for _, size in parts])
    _, claim = np.unique(its * len(rx_names) + its_rx, return_inverse=True)
    order = np.lexsort([*its_tx, -count, its_rx, -np.bincount(claim, count)[claim], its])
    return first[order][keys.begins(its[order])]


def _places(at: pd.DataFrame) -> dict[str, Floats]:
    """PLACE of some rows, as the table says it or as their locators do; NaN where neither does."""
    found = {name: at[name].to_numpy(float) for name in PLACE if name in at.columns}
    if len(found) < len(PLACE) and len(at):
        found = _of_locators(at) | found
    return {name: found.get(name, np.full(len(at), np.nan)) for name in PLACE}


def _of_locators(at: pd.DataFrame) -> dict[str, Floats]:
    """PLACE worked out from tx_locator and rx_locator; what cannot be worked out is not in it."""
    from reach.base import locator
    from reach.place import path

    try:
        lon, lat = locator.centre(at["rx_locator"].astype(str))
        found = {"rx_lon_deg": lon, "rx_lat_deg": lat}
        if "tx_locator" in at.columns and at["tx_locator"].notna().all():
            tx_lon, tx_lat = locator.centre(at["tx_locator"].astype(str))
            found["distance_km"], found["bearing_deg"] = path.inverse(tx_lon, tx_lat, lon, lat)
    except LocatorError:
        return {}  # `geometry` says so
    return found
