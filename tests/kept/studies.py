"""The studies: small, made up, and as different as stations are. Nobody owns them, and nobody heard them.

A study is its files, by name; `study.toml` is the one to walk. All of them come from dice of our own, so that no library's next
version throws others.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import Final

from reach.base import locator

Files = dict[str, str]
FIRST: Final = datetime(2026, 3, 2)  # a Monday
HOME: Final = (53.52, -2.71)
OWN: Final = "G4QUY"
MHZ: Final = {"80m": 3.5701, "40m": 7.0401, "30m": 10.1401, "20m": 14.0971, "15m": 21.0961, "10m": 28.1261}
SUFFIXES: Final = "QRC QRD QRE QRF QRH QRI QRJ QRR QRW QSC QSD QSE QSF QSG QSH QSI QSJ QSM QSN QSQ QTA QTB QTD QTE QTF QUA QUB QUC QUD QUE".split()
EUROPE: Final = (
    ("DL", 51, 10),
    ("F", 47, 2.5),
    ("I", 44, 11),
    ("SP", 52, 19),
    ("EA", 40, -4),
    ("SM", 59.5, 16),
    ("EI", 53, -7.5),
    ("OH", 62, 25),
)
WORLD: Final = (
    *EUROPE,
    ("W", 41, -76),
    ("VE", 45, -72),
    ("JA", 36, 139),
    ("VK", -34, 150),
    ("ZS", -26, 28),
    ("PY", -22, -47),
    ("UA", 56, 38),
)
PACIFIC: Final = (
    ("ZL", -37, 175), ("VK", -33, 150), ("KH6", 21.3, -157.9), ("JA", 36, 139.5), ("W", 38, -121), ("CE", -33.5, -70.7), ("FO", -17.6, -149.4),
    ("FK", -22, 166), ("A35", -21.2, -175.2), ("3D2", -17.8, 178), ("EA", 39.5, -1), ("G", 52, -1),
)  # fmt: skip
SOUTH: Final = (
    ("ZL", -45.9, 170.4),
    ("ZS", -33.9, 18.6),
    ("LU", -54.8, -68.3),
    ("VK", -42.9, 147.2),
    ("CE", -53.1, -70.9),
    ("JA", 36, 139.5),
)
COLUMNS: Final = "time_utc,callsign,locator,snr_db,frequency_mhz,transmitter,transmitter_locator,power_w,setup"


class Dice(random.Random):
    """What is thrown is `random()` alone, which every version of Python gives alike."""

    def about(self, spread: float) -> float:
        """Around 0, as a bell."""
        return spread * 1.73 * (self.random() + self.random() + self.random() + self.random() - 2)

    def below(self, count: int) -> int:
        return int(self.random() * count)

    def some(self, of: Sequence[Listener], count: int) -> list[Listener]:
        """Different ones, in the order of `of`."""
        left = list(range(len(of)))
        return [of[k] for k in sorted(left.pop(self.below(len(left))) for _ in range(min(count, len(of))))]


@dataclass(frozen=True)
class Listener:
    """level_db : how well it hears; likes_db : what it hears the first of two setups better"""

    call: str
    lat: float
    lon: float
    level_db: float
    likes_db: float

    @cached_property
    def square(self) -> str:
        return locator.from_position([self.lon], [self.lat])[0]


def listeners(
    dice: Dice, places: Iterable[tuple[str, float, float]], each: int, *, apart: float = 1.2
) -> list[Listener]:
    found = []
    for number, (prefix, lat, lon) in enumerate(places):
        for k in range(each):
            call = f"{prefix}{'' if prefix[-1].isdigit() else (number + k) % 9 + 1}{SUFFIXES[(5 * number + 7 * k) % len(SUFFIXES)]}"
            where = lat + dice.about(apart * 0.5), lon + dice.about(apart)
            found.append(Listener(call, *where, dice.about(4), dice.about(1.5)))
    return found


@dataclass(frozen=True)
class On:
    """What was on the air in a slot. gain_db : beside the usual; likes : +1 for the first of two setups, -1 for the other"""

    setup: str = ""
    gain_db: float = 0.0
    power_w: float | str = 5
    band: str = "20m"
    likes: int = 0


@dataclass(frozen=True)
class Station:
    call: str = OWN
    at: tuple[float, float] = HOME

    @cached_property
    def square(self) -> str:
        return locator.from_position([self.at[1]], [self.at[0]])[0]


def text(minute: float) -> str:
    return f"{FIRST + timedelta(minutes=minute):%Y-%m-%dT%H:%M:%SZ}"


def reports(
    dice: Dice,
    among: Sequence[Listener],
    minutes: Iterable[int],
    on: Callable[[int], On | None],
    *,
    by: Station = Station(),
    each: int = 5,
    fading_db: float = 4.0,
    noise_db: float = 2.5,
    limit_db: float = -29,
    level_db: float = -10,
) -> list[str]:
    """Rows of an export: for each slot some who listen, and of these those who decode it. Of several stations the band fades alike."""
    rows, fade, band = [], 0.0, Dice(99)
    for minute in minutes:
        now = on(minute)
        fade = 0.9 * fade + band.about(fading_db * 0.4)
        for who in dice.some(among, each) if now else ():
            away = abs(who.lat - by.at[0]) + abs((who.lon - by.at[1] + 180) % 360 - 180) / 2
            snr = (
                level_db
                - away / 9
                + who.level_db
                + fade
                + now.gain_db
                + now.likes * who.likes_db / 2
                + dice.about(noise_db)
            )
            if snr > limit_db:
                mhz = MHZ[now.band] + dice.below(9) * 1e-6
                rows.append(
                    f"{text(minute)},{who.call},{who.square},{round(snr)},{mhz:.6f},{by.call},{by.square},{now.power_w},{now.setup}"
                )
    return rows


def csv(*rows: Sequence[str], columns: str = COLUMNS) -> str:
    return "\n".join([columns, *(row for some in rows for row in some)]) + "\n"


def toml(more: str = "", *, station: str = f'callsign = "{OWN}"', head: str = "") -> str:
    return f'made_up = true\nnow = 2028-01-01T00:00:00Z\nfiles = ["spots.csv"]\n{head}\n[station]\n{station}\n{more}\n'


def turns(names: Sequence[str], length_min: int, gain_db: Sequence[float], **more: object) -> Callable[[int], On]:
    """Setups in turn, the same length each."""

    def on(minute: int) -> On:
        k = minute // length_min % len(names)
        return On(names[k], gain_db[k], likes=1 - 2 * (k % 2), **more)  # type: ignore[arg-type]

    return on


def hours(start: float, end: float, step_min: int = 2, day: int = 0) -> range:
    return range(day * 1440 + int(start * 60), day * 1440 + int(end * 60), step_min)


AB: Final = '[compare]\na = "loop"\nb = "dipole"\n'


# --- setups in turn -------------------------------------------------------------------------------------------------------


def evening() -> Files:
    """Two setups by a schedule, three bands, losses on the way up, receivers all over the world."""
    dice = Dice(1)
    among = listeners(dice, WORLD, 3)
    blocks = [(600 + 10 * k, ("loop", "dipole")[(k + k // 2 % 2) % 2]) for k in range(24)]
    name = {minute + k: setup for minute, setup in blocks for k in range(10)}
    bands = ("40m", "20m", "15m")
    rows = reports(
        dice, among, range(600, 840, 2),
        lambda m: On("", {"loop": 0, "dipole": 2.5}[name[m]], band=bands[m // 2 % 3], likes=1 if name[m] == "loop" else -1), each=9,
    )  # fmt: skip
    schedule = [f"{text(minute)},{text(minute + 10)},{setup}" for minute, setup in blocks]
    study = toml(
        '[setups.loop]\nantenna = "small loop"\ncable = { kind = "RG-58 class", length_m = 12 }\nswr = 1.8\n'
        '[setups.dipole]\nantenna = "dipole"\npower_w = 4\nbands = { 40m = { resistance_ohm = 31, reactance_ohm = 12 } }\n'
        "cable = { length_m = 20, loss_db_per_100m = 6.5, loss_at_mhz = 10 }\n" + AB,
        station=f'callsign = "{OWN}"\npower_w = 5',
        head='schedule = "schedule.csv"',
    )
    own = [row.rsplit(",", 2)[0] + ",," for row in rows]
    return {"study.toml": study, "spots.csv": csv(own), "schedule.csv": csv(schedule, columns="start,end,setup")}


def powers() -> Files:
    """Unequal and changing powers in the rows, two receivers with much of the weight, rows of a third setup and of none."""
    dice = Dice(2)
    among = listeners(dice, EUROPE, 2)

    def on(minute: int) -> On:
        k = minute // 10
        name = ("loop", "dipole", "loop", "dipole", "whip", "")[k % 6]
        return On(
            name, {"dipole": -1.5}.get(name, 0), (5, 10)[k % 2] if k % 7 else 2.5, likes=1 if name == "loop" else -1
        )

    rows = reports(dice, among, hours(8, 14), on, each=3)
    rows += reports(dice, among[:1], hours(8, 14), on, each=1, level_db=-5)
    rows += reports(dice, among[1:2], hours(8, 14, 3), on, each=1, level_db=-5)
    return {"study.toml": toml(AB), "spots.csv": csv(sorted(rows))}


def at_once() -> Files:
    """Both on the air together, a few hertz apart; some hear one alone."""
    dice = Dice(3)
    among = listeners(dice, EUROPE, 3)
    loop, dipole = (
        reports(Dice(4), some, hours(18, 21), lambda m, on=on: on, each=8, noise_db=3 + on.gain_db)  # type: ignore[misc]
        for some, on in ((among[:21], On("loop")), (among[3:], On("dipole", 1.5)))
    )
    return {"study.toml": toml(AB), "spots.csv": csv(sorted([*loop, *dipole]))}


def two_callsigns() -> Files:
    """Both on the air together and no setup named: told apart by a suffix, with powers of their own."""
    dice = Dice(33)
    among = listeners(dice, EUROPE, 2)
    plain, suffixed = (
        reports(Dice(34), among, hours(18, 21), lambda m, on=on: on, by=Station(call), each=7, noise_db=2 + on.gain_db)  # type: ignore[misc]
        for call, on in ((OWN, On("", 0, 5)), (f"{OWN}/P", On("", 1.5, 2.5)))
    )
    compared = f'[compare]\na = "{OWN}"\nb = "{OWN}/P"\n'
    return {"study.toml": toml(compared), "spots.csv": csv(sorted([*plain, *suffixed]))}


def strangers() -> Files:
    """In turn, but who heard the one did not hear the other; two heard both."""
    dice = Dice(35)
    among = listeners(dice, EUROPE, 2)
    on = turns(("loop", "dipole"), 10, (0, 1))
    rows = [
        row
        for some, k in ((among[:9], 0), (among[7:], 1))
        for row in reports(dice, some, [m for m in hours(9, 14) if m // 10 % 2 == k], on, each=2)
    ]
    return {"study.toml": toml(AB), "spots.csv": csv(sorted(rows))}


def short_session() -> Files:
    """Both on the air together for fifty minutes, heard by four; two modes."""
    dice = Dice(27)
    among = listeners(dice, EUROPE, 1)[:5]
    minutes = range(600, 650)
    loop, dipole = (
        reports(Dice(28), among, minutes, lambda m, on=on: on, each=4, noise_db=2 + on.gain_db)  # type: ignore[misc]
        for on in (On("loop"), On("dipole", 1.5))
    )
    rows = [f"{row},{'JT9' if int(row[14:16]) % 5 else 'CW'}" for row in sorted([*loop, *dipole])]
    return {"study.toml": toml(AB), "spots.csv": csv(rows, columns=f"{COLUMNS},mode")}


def fading() -> Files:
    """Strong signals that fade deeper on one setup, and a receiver's end that clips the strongest."""
    dice = Dice(30)
    among = listeners(dice, EUROPE[:6], 2)
    on = turns(("loop", "dipole"), 10, (0, 1))
    shallow, deep = (
        reports(dice, among, [m for m in hours(8, 14) if m // 10 % 2 == k], on, each=8, noise_db=2 + 2 * k, level_db=4)
        for k in (0, 1)
    )
    rows = [
        ",".join([*(cells := row.split(","))[:3], str(min(int(cells[3]), 7)), *cells[4:]]) for row in [*shallow, *deep]
    ]
    return {"study.toml": toml(AB + "[options]\ndecoding_limit_db = -28\n"), "spots.csv": csv(sorted(rows))}


def noiseless() -> Files:
    """Every report of the one setup three decibels above those of the other, at every receiver alike."""
    places = listeners(Dice(31), EUROPE[:1], 8, apart=0.05)
    among = [Listener(each.call, each.lat, each.lon, -k, 0) for k, each in enumerate(places)]
    on = turns(("loop", "dipole"), 10, (3, 0))
    return {
        "study.toml": toml(AB + "[options]\ndecoding_limit_db = -40\n"),
        "spots.csv": csv(reports(Dice(32), among, hours(9, 13), on, each=8, noise_db=0, fading_db=0)),
    }


def near_limit() -> Files:
    """Weak signals near a known limit, and one setup that is hardly ever decoded far away."""
    dice = Dice(5)
    among = listeners(dice, EUROPE, 4)
    rows = reports(
        dice, among, hours(6, 14), turns(("loop", "dipole"), 10, (0, -4)), each=9, level_db=-23, limit_db=-28
    )
    return {"study.toml": toml(AB + "[options]\ndecoding_limit_db = -28\n"), "spots.csv": csv(rows)}


def bands_in_turn() -> Files:
    """Four bands gone through in turn, each with both setups, reversed at every second visit; another gain on each band."""
    dice = Dice(6)
    among = listeners(dice, EUROPE, 3)
    bands = ("80m", "40m", "30m", "20m")

    def on(minute: int) -> On:
        visit, part = minute // 10, minute // 5 % 2
        first = visit // 4 % 2
        name = ("loop", "dipole")[(part + first) % 2]
        return On(
            name,
            (visit % 4) * 1.2 - 1 if name == "loop" else 0,
            band=bands[visit % 4],
            likes=1 if name == "loop" else -1,
        )

    return {"study.toml": toml(AB), "spots.csv": csv(reports(dice, among, hours(7, 15), on, each=7))}


def late_clock() -> Files:
    """A schedule whose clock was twelve minutes late."""
    dice = Dice(7)
    among = listeners(dice, EUROPE, 3)
    blocks = [(600 + 15 * k, ("loop", "dipole")[(k + k // 3) % 2]) for k in range(28)]
    name = {minute + k: setup for minute, setup in blocks for k in range(15)}
    rows = reports(dice, among, range(600, 1020, 2), lambda m: On("", 6.0 * (name[m] == "loop")), each=9)
    schedule = [f"{text(minute + 12)},{text(minute + 27)},{setup}" for minute, setup in blocks]
    study = toml(AB, head='schedule = "schedule.csv"')
    return {"study.toml": study, "spots.csv": csv(rows), "schedule.csv": csv(schedule, columns="start,end,setup")}


def slow_turns() -> Files:
    """Setups that changed every two hours: too slowly for most, with two days of it and a row of sessions."""
    dice = Dice(8)
    among = listeners(dice, EUROPE, 2)
    minutes = [*hours(6, 18, 4), *hours(6, 18, 4, day=1)]
    rows = reports(dice, among, minutes, turns(("loop", "dipole"), 120, (0, 3)), each=5)
    own = [row.rsplit(",", 1)[0] + "," for row in rows]
    sessions = "".join(
        f'[[sessions]]\nname = "{d}{k}"\nsetup = "{("loop", "dipole")[k % 2]}"\nstart = {text(1440 * d + 120 * k)}\nend = {text(1440 * d + 120 * k + 120)}\n'
        for d in (0, 1) for k in range(3, 9)
    )  # fmt: skip
    return {"study.toml": toml(AB + sessions), "spots.csv": csv(own)}


def one_alone() -> Files:
    """One of the two was never heard."""
    dice = Dice(9)
    rows = reports(dice, listeners(dice, EUROPE, 1), hours(9, 11), lambda m: On("loop"), each=3)
    return {
        "study.toml": toml("[setups.loop]\n[setups.dipole]\n" + AB, station=f'callsign = "{OWN}"\npower_w = 5'),
        "spots.csv": csv(rows),
    }


# --- days, and what was done once -----------------------------------------------------------------------------------------


def days_in_turn() -> Files:
    """Setups in turn by the day, beside a neighbour who changed nothing."""
    dice = Dice(10)
    among = listeners(dice, EUROPE, 2)
    minutes = [m for d in range(14) for m in hours(10, 13, 6, day=d)]
    rows = reports(dice, among, minutes, turns(("loop", "dipole"), 1440, (0, 6)), each=5)
    beside = reports(dice, among, minutes, lambda m: On(), by=Station("G3QTD", (53.3, -2.4)), each=5)
    return {"study.toml": toml(AB + 'control = "G3QTD"\n'), "spots.csv": csv(sorted([*rows, *beside]))}


def before_and_after() -> Files:
    """One step, never taken back, between two controls, of which one changed too."""
    dice = Dice(11)
    among = listeners(dice, EUROPE, 2)
    minutes = [m for d in range(16) for m in hours(10, 13, 8, day=d)]
    rows = reports(
        dice, among, minutes, lambda m: On("loop" if m < 8 * 1440 else "dipole", 2.5 * (m >= 8 * 1440)), each=5
    )
    for call, at, step in (("G3QTD", (53.3, -2.4), 0.0), ("GW4QUE", (53.1, -3.4), -2.0)):
        rows += reports(
            dice, among, minutes, lambda m, s=step: On("", s * (m >= 8 * 1440)), by=Station(call, at), each=5
        )  # type: ignore[misc]
    return {"study.toml": toml(AB + 'control = ["G3QTD", "GW4QUE"]\n'), "spots.csv": csv(sorted(rows))}


def weeks() -> Files:
    """By the week, and no control: the setups cannot be told from the weeks."""
    dice = Dice(12)
    among = listeners(dice, EUROPE, 1)
    minutes = [m for d in range(28) for m in hours(12, 14, 15, day=d)]
    return {
        "study.toml": toml(AB, head='local_time = "Europe/Berlin"'),
        "spots.csv": csv(reports(dice, among, minutes, turns(("loop", "dipole"), 10080, (0, 3)), each=4)),
    }


def several() -> Files:
    """Five setups: four in turn, one that was on alone, on two bands."""
    dice = Dice(13)
    among = listeners(dice, EUROPE, 3)
    four = turns(("loop", "dipole", "vertical", "whip"), 5, (0, 2, -3, 0.5))
    rows = reports(
        dice, among, hours(8, 15), lambda m: On(four(m).setup, four(m).gain_db, 5, ("40m", "20m")[m // 20 % 2]), each=7
    )
    rows += reports(dice, among, hours(15, 16), lambda m: On("beam", 6), each=5)
    asked = 'setups = ["loop", "dipole", "vertical", "whip", "beam"]'
    return {"study.toml": toml(f"[compare]\n{asked}\n"), "spots.csv": csv(rows)}


def several_few() -> Files:
    """Three setups in turn, heard by four receivers."""
    dice = Dice(29)
    among = listeners(dice, EUROPE[:4], 1)
    three = turns(("loop", "dipole", "vertical"), 6, (0, 4, -3))
    return {
        "study.toml": toml('[compare]\nsetups = ["loop", "dipole", "vertical"]\n'),
        "spots.csv": csv(reports(dice, among, hours(8, 13), lambda m: On(three(m).setup, three(m).gain_db), each=4)),
    }


# --- weeks and months -------------------------------------------------------------------------------------------------------


def _seasonal(
    seed: int,
    step_of: Callable[[int], float],
    controls: Sequence[tuple[str, tuple[float, float], int]],
    count: int = 34,
) -> list[str]:
    dice = Dice(seed)
    among = listeners(dice, EUROPE[:6], 2)
    minutes = [m for d in range(count) for m in hours(17, 18, 10, day=d)]
    rows = reports(
        dice, among, minutes, lambda m: On("", step_of(m // 1440), 5 if m < 20 * 1440 else 4), each=8, noise_db=1.5
    )
    for call, at, changed in controls:
        rows += reports(
            dice, among, minutes, lambda m, c=changed: On("", -5.0 * (m // 1440 >= c)), by=Station(call, at), each=8, noise_db=1.5  # type: ignore[misc]
        )  # fmt: skip
    return sorted(rows)


def season() -> Files:
    """A step of the station, a spell of eight days, a control that changed itself, one far away, and the station's log."""
    controls = [
        ("G3QTD", (53.3, -2.4), 99),
        ("GW4QUE", (53.1, -3.4), 99),
        ("G0QUF", (53.9, -2.2), 25),
        ("GM3QSC", (57.6, -4.2), 99),
    ]
    rows = _seasonal(14, lambda d: -4.0 * (d >= 14) + 3.5 * (23 <= d < 28), controls)
    log = (
        '[[log]]\ndate = 2026-03-16\ndone = "new cable"\nswr = 1.4\n[[log]]\ndate = 2026-03-04\ndone = "new mast"\n'
        f'[season]\ncontrols = {[call for call, _, _ in controls]}\n'
    )  # fmt: skip
    return {"study.toml": toml(log), "spots.csv": csv(rows)}


def watched_season() -> Files:
    """Looked at every day, beside a control that the program chose; little by little weaker."""
    rows = _seasonal(15, lambda d: -0.15 * d, [("G3QTD", (53.3, -2.4), 99)])
    return {"study.toml": toml("[season]\nwatch = true\n"), "spots.csv": csv(rows)}


def season_alone() -> Files:
    """No control at all."""
    rows = _seasonal(16, lambda d: -9.0 * (d >= 28), [])
    return {"study.toml": toml('[season]\n[[log]]\ndate = 2026-03-30\ndone = "ice"\n'), "spots.csv": csv(rows)}


def year() -> Files:
    """Four hundred days, three bands by season and hour, a schedule that knows of five weeks off the air."""
    dice = Dice(17)
    among = listeners(dice, WORLD, 2)
    rows = []
    for d in range(400):
        if not 100 <= d < 135:
            band = ("80m", "20m", "10m")[(d // 30 + d) % 3]
            some = [1440 * d + 60 * dice.below(24) + 2 * dice.below(30) for _ in range(2)]
            rows += reports(dice, among[: 12 + d // 20], some, lambda m, b=band: On("", band=b), each=4)  # type: ignore[misc]
    schedule = [f"{text(0)},{text(100 * 1440)},wire", f"{text(135 * 1440)},{text(400 * 1440)},wire"]
    study = toml("[setups.wire]\n", head='schedule = "schedule.csv"')
    return {"study.toml": study, "spots.csv": csv(rows), "schedule.csv": csv(schedule, columns="start,end,setup")}


def decades() -> Files:
    """Thirteen years, now and then a day, the later ones with more receivers; some weeks by sessions."""
    dice = Dice(26)
    among = listeners(dice, WORLD, 2)
    rows = []
    for k in range(160):
        day = k * 30 + dice.below(9) - 150 * 30
        minutes = [1440 * day + 60 * dice.below(24) + 2 * dice.below(30) for _ in range(3)]
        rows += reports(dice, among[: 10 + k // 8], minutes, lambda m, b=("40m", "15m")[k % 2]: On("", band=b), each=4)  # type: ignore[misc]
    return {"study.toml": toml(), "spots.csv": csv(rows)}


# --- odd places -------------------------------------------------------------------------------------------------------------


def fiji() -> Files:
    """Beside the date line, south of the equator, with listeners at the antipode; only some bands and days are asked for."""
    dice = Dice(18)
    by = Station("3D2QTB", (-18.1, 178.4))
    among = [
        *listeners(dice, PACIFIC, 2, apart=0.1),
        Listener("EA8QUD", 18.1, -1.6, 8, 0),
        Listener("ZL7QUC", -43.9, -176.5, 3, 0),
    ]
    bands = ("40m", "20m", "15m")
    minutes = [m for d in range(5) for m in hours(0, 24, 20, day=d)]
    rows = reports(dice, among, minutes, lambda m: On("", band=bands[m // 20 % 3]), by=by, each=7, level_db=-5)
    head = f'bands = ["20m", "15m"]\nstart = {text(1440)}\nend = {text(4 * 1440 + 700)}'
    return {
        "study.toml": toml(station='callsign = "3D2QTB"\nlocator = "RH91fv"\npower_w = 10', head=head),
        "spots.csv": csv(rows),
    }


def pole() -> Files:
    """At the South Pole in polar night, at the end of the month of June; a listener at home, one at the other pole."""
    dice = Dice(19)
    by = Station("KC4QTB", (-89.98, 0.5))
    among = [
        *listeners(dice, SOUTH, 2, apart=0.1),
        Listener("KC4QUD", -77.8, 166.7, 5, 0),
        Listener("VY0QUC", 82.5, -62.3, 15, 0),
        Listener("KC4QTB", -89.98, 0.5, 5, 0),
    ]
    june = 110 * 1440
    rows = reports(
        dice,
        among,
        [june + m for m in hours(0, 47, 8)],
        lambda m: On("", band=("80m", "20m")[m // 8 % 2]),
        by=by,
        each=5,
    )
    return {"study.toml": toml(station='callsign = "KC4QTB"'), "spots.csv": csv(rows)}


def squares() -> Files:
    """Locators of four characters at both ends, receivers that move, ships, islands, a station in two places."""
    dice = Dice(20)
    among = [
        *listeners(dice, (("TF", 64.5, -19), ("CT3", 32.7, -17), ("OY", 62, -7), ("EI", 53, -8), ("ZB2", 36.1, -5.3), ("4U1", 46.2, 6.1)), 2),
        Listener("LA9QUC/MM", 60, -14, 4, 0), Listener("DL5QUD/P", 54.2, 7.9, 4, 0), Listener("DL5QUD/P", 47.6, 9.5, 4, 0),
    ]  # fmt: skip
    early, late = (reports(dice, among, part, lambda m: On("", band="40m"), by=Station(OWN, at), each=5) for part, at in (
        (hours(4, 9, 4), HOME), (hours(12, 17, 4), (50.1, -5.6))
    ))  # fmt: skip
    short = [
        ",".join([*(cells := row.split(","))[:2], cells[2][:4], *cells[3:6], cells[6][:4], *cells[7:]])
        for row in [*early, *late]
    ]
    return {"study.toml": toml("[options]\nfour_character_locators = true\n"), "spots.csv": csv(short)}


def no_home() -> Files:
    """Nobody says where the station was: nothing can be placed, and the setups can be compared all the same."""
    dice = Dice(21)
    rows = reports(dice, listeners(dice, EUROPE, 2), hours(9, 13), turns(("loop", "dipole"), 10, (0, 4)), each=6)
    blank = [",".join([*(cells := row.split(","))[:6], "", *cells[7:]]) for row in rows]
    return {"study.toml": toml(AB), "spots.csv": csv(blank)}


# --- odd rows -----------------------------------------------------------------------------------------------------------------


_SLIPS: Final = (
    lambda s: s[1] + s[0] + s[2:], lambda s: s[:2] + s[3] + s[2] + s[4:], lambda s: s[:3] + str((int(s[3]) + 1) % 10) + s[4:],
    lambda s: chr(ord(s[0]) + 1) + s[1:], lambda s: s[:4] + s[5] + s[4], lambda s: s[0] + "A" + s[2:], lambda s: s.lower(), lambda s: s[:2] + "O" + s[3:],
)  # fmt: skip


def slips() -> Files:
    """Locators copied wrongly, each for some of a receiver's reports or for all, and corrections that were approved."""
    dice = Dice(22)
    among = listeners(dice, WORLD, 4)
    rows = reports(dice, among, hours(5, 21, 4), lambda m: On("", band=("40m", "20m")[m // 4 % 2]), each=7)
    wrong = []
    for row in rows:
        cells = row.split(",")
        number = next(k for k, who in enumerate(among) if who.call == cells[1])
        if number % 3 == 0 and (number % 2 or dice.random() < 0.2):
            cells[2] = _SLIPS[number // 3 % len(_SLIPS)](cells[2])
        wrong.append(",".join(cells))
    first = next(row.split(",") for row in wrong if row.split(",")[2] not in {who.square for who in among})
    fixes = [
        f"{first[1]},{first[2]},{among[0].square},,1,yes",
        "DL1QUZ,JO99aa,JO62aa,,1,yes",
        f"{among[7].call},{among[7].square},,,3,JN18eu",
    ]
    return {
        "study.toml": toml(head='fixes = "fixes.csv"'), "spots.csv": csv(wrong),
        "fixes.csv": csv(fixes, columns="callsign,locator,suggestion,reason,rows,accept"),
    }  # fmt: skip


# A sound row, and what stands in one of its cells instead.
_SOUND: Final = ("", "DL1QRC", "JO62qm", "-12", "14.0971", OWN, "", "5", "")
_ODD: Final = {
    0: ("nonsense", "2026-13-45T99:99", "2031-01-01T00:00:00Z", "1899-01-01T00:00:00Z", " "),
    1: ("", "no call", OWN, "dl1qrc ", "DL", "1234567"),
    2: ("", "ZZ99zz", "J062qm", "JO62", 'JO62qm"x', "jo62QM", "JO62qmx", "JO6Zqm", "J O62qm"),
    3: ("", "loud", "99", "-12 dB", "-12.0", "-61", "-12,5", "R5"),
    4: ("", "banana", "14097100", "14.6", "7.25", "14097.1", "20m", "0", "14.0971 MHz", "10.14"),
    6: ("XX", "IO83", "IO91wm"),
    7: ("-5", "lots", "37 dBm", "5 W", "5000 mW", "0", "1e9"),
}  # fmt: skip


def odd_rows() -> Files:
    """Rows that cannot be, rows that stand twice or nearly so, another station's rows, both directions, and units in the cells."""
    dice = Dice(23)
    among = listeners(dice, EUROPE, 2)
    rows = reports(dice, among, hours(6, 16, 6), lambda m: On(band=("40m", "20m", "10m")[m // 6 % 3]), each=5)
    again = [rows[k] for k in range(0, 60, 7)]
    nearly = [",".join([*(cells := row.split(","))[:3], str(int(cells[3]) + 3), *cells[4:]]) for row in rows[80:120:9]]
    others = reports(dice, among, hours(6, 8, 6), lambda m: On(), by=Station("G3QTD", (53.3, -2.4)), each=3)
    heard = [
        f"{text(400 + k)},{OWN},{Station().square},-{k},7.0401,{among[k].call},{among[k].square},1," for k in range(6)
    ]
    odd = [",".join([*_SOUND[:at], cell, *_SOUND[at + 1 :]]) for at, cells in _ODD.items() for cell in cells]
    odd = [f"{text(500 + k)}{row}" if row.startswith(",") else row for k, row in enumerate([*odd, *odd])]
    odd.append(f"{text(499)},DL1QRC")
    study = toml(station=f'callsign = "{OWN}"\nlocator = "{Station().square}"')
    return {"study.toml": study, "spots.csv": csv(rows[:100], odd, rows[100:], again, nearly, others, heard)}


def heard() -> Files:
    """What the station itself received from others, each with a power of its own, some with none; bands and times as texts of their own."""
    dice = Dice(24)
    among = listeners(dice, WORLD, 2)
    rows = []
    for row in reports(dice, among, hours(16, 22, 4), turns(("loop", "dipole"), 10, (0, 2.5)), each=6):
        time, call, square, snr, mhz, own, home, _, setup = row.split(",")
        number = sum(map(ord, call)) % 5
        rows.append(f"{time},{own},{home},{snr},{mhz},{call},{square},{(0.2, 1, 5, 20, '')[number]},{setup}")
    return {"study.toml": toml(AB, head='direction = "heard"'), "spots.csv": csv(rows)}


def few() -> Files:
    """A dozen reports of three receivers."""
    dice = Dice(25)
    rows = reports(
        dice,
        listeners(dice, EUROPE[:3], 1, apart=0.1),
        range(700, 716, 4),
        turns(("loop", "dipole"), 4, (0, 1)),
        each=3,
    )
    return {"study.toml": toml(AB), "spots.csv": csv(rows)}


STUDIES: Final = {
    each.__name__: each for each in (
        evening, powers, at_once, two_callsigns, strangers, short_session, fading, noiseless, near_limit, bands_in_turn, late_clock,
        slow_turns, one_alone, days_in_turn, before_and_after, weeks, several, several_few, season, watched_season, season_alone, year,
        decades, fiji, pole, squares, no_home, slips, odd_rows, heard, few,
    )
}  # fmt: skip
