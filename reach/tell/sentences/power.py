"""What `reach.radio` works out, in words: the power at the antenna, the powers behind a report, trimming, hops."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from reach.assign.powers import Told
from reach.base import words
from reach.base.words import Typography
from reach.radio import feedline, hops
from reach.radio.feedline import Line
from reach.radio.power import Budget, Missing, Stated
from reach.radio.trim import FAR_PERCENT, StartingLength, Trim

ONE_SWR: Final = "A setup has one SWR in the study, and it is used on every band; measure it on each."
GEOMETRY: Final = "Geometry, not proof of hops: it says what a reflection at that height could span, not what happened."
_ESTIMATE: Final = "What the SWR adds is an estimate: it takes the mean over all places of the standing wave."
_TUNER: Final = "The radio is taken to give its full power into that, by way of a tuner whose own loss is not counted."
_TUNER_FROM_SWR: Final = 2.0  # where many radios without a tuner begin to lower their power (common practice)
SAME_POWER_DB: Final = 0.05  # a difference that one decimal does not show
_SHOWN_SWING_DB: Final = 0.05  # a possible miss below this is not worth a sentence

_MISSING: Final = {
    Missing.POWER: "the power at the radio",
    Missing.LINE: "the feedline (class of cable and length)",
    Missing.SWR: "the SWR or R and X at the antenna",
    Missing.FREQUENCY: "the frequency",
}


# --- which powers -----------------------------------------------------------------------------------------------------


def stated(found: Stated, say: Typography) -> str:
    """The powers behind a report: '4.3 W at the antenna', '5 W and 10 W at the radio', 'power not given'.

    Powers at the antenna differ a little from band to band, so of them the least and the most are told.
    """
    if found.at == "unknown":
        return "power not given"
    texts = list(dict.fromkeys(say.watt(value) for value in found.watts))  # several values may read alike
    told = words.listed(texts) if found.at == "radio" else _span(texts, say)
    silent = words.listed([repr(name) if name else "reports without a setup" for name in found.silent])
    return f"{told} at the {found.at}" + (f" (not given for {silent})" if silent else "")


def _span(texts: list[str], say: Typography) -> str:
    low, high = texts[0], texts[-1]
    unit = high.rpartition(say.gap)[2]
    return high if low == high else f"{low.removesuffix(f'{say.gap}{unit}')} to {high}"


# --- the powers of two setups -----------------------------------------------------------------------------------------


def taken_off(told: Told, v: Mapping[str, Any], a: str, b: str, *, say: Typography) -> str:
    """Which part of a difference is power, or what was taken for granted. v : as a Comparison's `power` has it"""
    if told == Told.NOTHING:
        lost = f" {say.db_signed(v['line_db'])} that cables and matches make was taken off." if v["line_db"] else ""
        return f"No power is known; the comparison holds if it was the same with both setups.{lost}"
    if "a_w" not in v:
        return ""
    difference = v["difference_db"]
    radio = say.watt(v["radio_a_w"]), say.watt(v["radio_b_w"])
    if told == Told.BY_ROW:
        where = " at the antenna" if v["at"] == "antenna" else ""
        return (
            f"The power varied within a setup: each report was brought to the same power{where} by its own row (in the middle "
            f"{say.db_signed(difference)}, {a} less {b})."
        )
    if v["at"] == "antenna":
        watts = f"{say.watt(v['a_w'])} with {a}, {say.watt(v['b_w'])} with {b}, after cable and match"
        from_ = f"{radio[0]} each" if radio[0] == radio[1] else f"{radio[0]} and {radio[1]}"
        return (
            f"{_more(difference, a, b, say)} at the antenna ({watts}; {from_} at the radio): it was taken off, and what is left is "
            "the antenna."
        )
    if abs(difference) < SAME_POWER_DB:
        return f"The {'study gives' if told == Told.STUDY else 'rows give'} both setups the same power ({radio[0]})."
    return (
        f"{_more(difference, a, b, say)}, {radio[0]} with {a} and {radio[1]} with {b}: it was taken off, and what is left is the "
        "antenna with its feedline."
    )


def _more(difference_db: float, a: str, b: str, say: Typography) -> str:
    """Which setup had the power: 'vertical had 7.0 dB more power'."""
    size = say.db(abs(difference_db), 1)
    if size == say.db(0.0, 1):
        return f"{a} and {b} had the same power"
    return f"{a if difference_db > 0 else b} had {size} more power"


def in_doubt(told: Told, v: Mapping[str, Any], a: str, b: str, *, say: Typography) -> str:
    """Why no difference can be called an antenna's, as what follows 'Cannot tell: '."""
    if told == Told.ONE_ONLY:
        if not v["known"]:
            return (
                f"{say.share(v['blank'])} of the rows of a setup name no power, and powers differ or may differ: until they are "
                "known no difference is the antenna's."
            )
        other = b if v["known"] == a else a
        return f"a power is known for {v['known']} only; until that of {other} is, no difference is the antenna's."
    named, rows = (_two_powers(v, who, a, b, say) for who in ("study", "rows"))
    return f"you named {named}; the rows say {rows}. Which is right? Until then no difference is the antenna's."


def _two_powers(v: Mapping[str, Any], who: str, a: str, b: str, say: Typography) -> str:
    watts = [f"{say.watt(v[f'{who}_{k}_w'])} for {name}" for k, name in (("a", a), ("b", b)) if f"{who}_{k}_w" in v]
    difference = f", a difference of {say.db_signed(v[f'{who}_db'])}" if f"{who}_db" in v else ""
    return f"{words.listed(watts)}{difference}"


# --- where the power goes ---------------------------------------------------------------------------------------------


def budget(found: Budget, say: Typography) -> tuple[str, ...]:
    """The finding, and what stands behind it: a sentence each. The finding comes first and is always there."""
    return tuple(text for text in (_left(found, say), _loss(found, say), _swr(found, say), _miss(found, say)) if text)


def missing(found: Budget, say: Typography) -> tuple[str, ...]:
    """What would have to be known, as phrases: 'the power at the radio'."""
    return tuple(_no_loss(found, say) if what is Missing.LOSS else _MISSING[what] for what in found.missing)


def line(found: Line, say: Typography) -> str:
    """A feedline: '20 m of RG-58 class'."""
    length = f"{say.plain(found.length_m)}{say.gap}m"
    if found.kind is not None:
        return f"{length} of {feedline.find(found.kind).name}"
    assert found.loss_db_per_100m is not None and found.loss_at_mhz is not None
    loss = f"{say.plain(found.loss_db_per_100m)}{say.gap}dB per 100{say.gap}m"
    return f"{length} of cable ({loss} at {_mhz(found.loss_at_mhz, say)})"


def watts(power_w: float, say: Typography) -> str:
    """A power that was worked out, by its size: '3.9 W', '120 W', '450 mW'. It keeps a digit: '5.0 W' is not '5 W'."""
    if power_w >= 99.95:
        return f"{say.number(power_w, 0)}{say.gap}W"
    if power_w >= 0.9995:
        return f"{say.number(power_w, 1)}{say.gap}W"
    milli = power_w * 1000
    return f"{say.number(milli, 0) if milli >= 0.95 else f'{milli:.2g}'}{say.gap}mW"


def swing(most_db: float, say: Typography) -> str:
    """By how much the estimates of several budgets may miss; empty where that is not worth a sentence."""
    if most_db < _SHOWN_SWING_DB:
        return ""
    return f"{_ESTIMATE} On lines as short as these it may miss by up to {say.db(most_db, 2)} either way."


def _left(found: Budget, say: Typography) -> str:
    lacks = ", ".join(missing(found, say))
    if found.power_at_radio_w is None:
        return f"What reaches the antenna is not known; missing: {lacks}."
    given = watts(found.power_at_radio_w, say)
    if found.power_at_antenna_w is not None and found.power_at_antenna_dbm is not None:
        level = f"{watts(found.power_at_antenna_w, say)} ({say.number(found.power_at_antenna_dbm)}{say.gap}dBm)"
        return f"Of your {given}, {level} reach the antenna."
    # Without the line's loss the bound would be the radio's own power, which says nothing.
    bound = "" if found.matched_loss_db is None else f", {watts(found.at_most_w or 0.0, say)} at most"
    return f"How much of your {given} reaches the antenna is not known{bound}; missing: {lacks}."


def _loss(found: Budget, say: Typography) -> str:
    if found.matched_loss_db is None or found.line is None or found.frequency_mhz is None:
        return ""
    percent = f"{say.plain(found.spread_percent)}{say.gap}%" if found.spread_percent else ""
    spread = f" (figures for the class differ by up to {percent})" if percent else ""
    loss = f"{line(found.line, say)} loses {say.db(found.matched_loss_db, 2)} when matched{spread}"
    matched = f"At {_mhz(found.frequency_mhz, say)} {loss}"
    extra, total, swr = found.extra_loss_db, found.total_loss_db, found.swr_at_antenna
    if extra is None or total is None or swr is None:
        return f"{matched}."
    return f"{matched}, about {say.db(extra, 2)} more from SWR {_swr_value(swr, say)}, {say.db(total, 2)} in all."


def _swr(found: Budget, say: Typography) -> str:
    there, here = found.swr_at_antenna, found.swr_at_radio
    if there is None:
        return ""
    meter = f"SWR {_swr_value(there, say)} at the antenna reads as {say.number(there)} on a meter there"
    if here is None:
        return f"{meter}."
    # Only where a meter, which shows one digit, would show the difference.
    flatters = ": a lossy line flatters" if round(here, 1) < round(there, 1) else ""
    tuner = f" {_TUNER}" if here >= _TUNER_FROM_SWR else ""
    return f"{meter} and as {say.number(here)} at the radio{flatters}.{tuner}"


def _miss(found: Budget, say: Typography) -> str:
    losses = found.total_loss_range_db
    if losses is None or (found.extra_swing_db or 0.0) < _SHOWN_SWING_DB:
        return ""
    least, most = say.number(losses[0], 2), say.db(losses[1], 2)
    return f"{_ESTIMATE} On a line of this length the whole loss may lie between {least} and {most}."


def _no_loss(found: Budget, say: Typography) -> str:
    assert found.line is not None and found.frequency_mhz is not None
    lowest, highest = found.line.range_mhz
    known = f"known from {say.plain(lowest)} to {_mhz(highest, say)}"
    return f"the loss of {line(found.line, say)} at {_mhz(found.frequency_mhz, say)} ({known})"


def _mhz(frequency_mhz: float, say: Typography) -> str:
    return f"{say.plain(frequency_mhz)}{say.gap}MHz"


def _swr_value(swr: float, say: Typography) -> str:
    """Two digits below 2, where they are worth something: a meter that shows 1.0 may stand before 1.02."""
    return say.number(swr, 2 if swr < 1.995 else 1)


# --- lengths of wire --------------------------------------------------------------------------------------------------


def starting_length(found: StartingLength, say: Typography) -> str:
    """What to cut first."""
    metres = (
        f"{say.number(value, 2)}{say.gap}m"
        for value in (found.quarter_wave_m, found.half_wave_m, found.free_quarter_wave_m, found.free_half_wave_m)
    )
    quarter, half, free_quarter, free_half = metres
    return (
        f"To start with at {_mhz(found.frequency_mhz, say)}: a quarter wave of {quarter}, a half wave of {half} "
        f"(common practice, thin wire; {free_quarter} and {free_half} in free space); cut it a little long, measure, "
        "then trim."
    )


def trim(found: Trim, say: Typography) -> str:
    """What to do with a wire or whip, with the reminder to move half of it and measure again."""
    now, wanted = say.number(found.resonant_mhz, 3), f"{say.number(found.wanted_mhz, 3)}{say.gap}MHz"
    if round(found.change_percent, 1) == 0:
        return f"Resonant at {now}{say.gap}MHz, wanted {wanted}: nothing worth trimming (less than 0.05{say.gap}%)."
    way = "longer" if found.change_percent > 0 else "shorter"
    change_m = None if found.change_m is None else abs(found.change_m)
    metres, half = ("", "") if change_m is None else (f", {_length(change_m, say)} in all", _length(change_m / 2, say))
    told = (
        f"From {now} to {wanted}: make it {say.number(abs(found.change_percent))}{say.gap}% {way}{metres}; "
        f"move half of it{f' ({half})' if half else ''} and measure again (common practice)."
    )
    if found.is_far:
        step = f"A step of more than {say.plain(FAR_PERCENT)}{say.gap}%"
        told += f" {step} is unusual: make sure that the dip you measured is the resonance you mean."
    return told


def _length(metres: float, say: Typography) -> str:
    return f"{say.number(metres, 2)}{say.gap}m" if metres >= 1 else f"{say.number(metres * 100)}{say.gap}cm"


# --- hops -------------------------------------------------------------------------------------------------------------


def fewest_hops(distance_km: float, say: Typography) -> str:
    """The fewest hops that span a distance, off both mirrors and for both take-off angles of `radio.hops`.

    distance_km : above 0
    """
    counts = {key: int(count) for key, count in hops.table(distance_km).items()}
    (flat, steep), (low, high) = hops.TAKE_OFF_DEG, hops.HEIGHTS_KM
    return (
        f"By geometry {say.count(distance_km)}{say.gap}km takes at least {say.things(counts[low, flat], 'hop')} off a "
        f"mirror at {say.plain(low)}{say.gap}km for a take-off angle of {say.plain(flat)} degrees "
        f"({counts[low, steep]} at {say.plain(steep)} degrees), and at least {say.things(counts[high, flat], 'hop')} "
        f"at {say.plain(high)}{say.gap}km ({counts[high, steep]} at {say.plain(steep)} degrees)."
    )
