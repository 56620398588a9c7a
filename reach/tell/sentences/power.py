"""What `reach.radio` works out, in words: the power at the antenna, the powers behind a report, trimming, hops."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from reach.assign.powers import Told
from reach.base.tongue import Phrase
from reach.base.words import Typography
from reach.radio import feedline, hops
from reach.radio.feedline import Line
from reach.radio.power import Budget, Missing, Stated
from reach.radio.trim import FAR_PERCENT, StartingLength, Trim

ONE_SWR: Final = Phrase("A setup's SWR is used on every band for which the study has none; measure it on each.")
GEOMETRY: Final = Phrase(
    "Geometry, not proof of hops: it says what a reflection at that height could span, not what happened."
)
_ESTIMATE: Final = Phrase("What the SWR adds is an estimate: it takes the mean over all places of the standing wave.")
_TUNER: Final = Phrase(
    "The radio is taken to give its full power into that, by way of a tuner whose own loss is not counted."
)
_TUNER_FROM_SWR: Final = 2.0  # where many radios without a tuner begin to lower their power (common practice)
SAME_POWER_DB: Final = 0.05  # a difference that one decimal does not show
_SHOWN_SWING_DB: Final = 0.05  # a possible miss below this is not worth a sentence

_MISSING: Final = {
    Missing.POWER: Phrase("the power at the radio"),
    Missing.LINE: Phrase("the feedline (class of cable and length)"),
    Missing.SWR: Phrase("the SWR or R and X at the antenna"),
    Missing.FREQUENCY: Phrase("the frequency"),
}


# --- which powers -----------------------------------------------------------------------------------------------------


def stated(found: Stated, say: Typography) -> str:
    """The powers behind a report: '4.3 W at the antenna', '5 W and 10 W at the radio', 'power not given'.

    Powers at the antenna differ a little from band to band, so of them the least and the most are told.
    """
    if found.at == "unknown":
        return say.text("power not given")
    texts = list(dict.fromkeys(say.watt(value) for value in found.watts))  # several values may read alike
    told = say.listed(texts) if found.at == "radio" else _span(texts, say)
    silent = say.listed([repr(name) if name else say.text("reports without a setup") for name in found.silent])
    message = Phrase("{told} at the radio") if found.at == "radio" else Phrase("{told} at the antenna")
    return say.text(message, told=told) + (say.text(" (not given for {silent})", silent=silent) if silent else "")


def _span(texts: list[str], say: Typography) -> str:
    low, high = texts[0], texts[-1]
    unit = high.rpartition(say.gap)[2]
    return high if low == high else say.text("{low} to {high}", low=low.removesuffix(f"{say.gap}{unit}"), high=high)


# --- the powers of two setups -----------------------------------------------------------------------------------------


def taken_off(told: Told, v: Mapping[str, Any], a: str, b: str, *, say: Typography) -> str:
    """Which part of a difference is power, or what was taken for granted. v : as a Comparison's `power` has it"""
    if told == Told.NOTHING:
        lost = (
            say.text(" {line_db} that cables and matches make was taken off.", line_db=say.db_signed(v["line_db"]))
            if v["line_db"]
            else ""
        )
        return say.text("No power is known; the comparison holds if it was the same with both setups.{lost}", lost=lost)
    if "a_w" not in v:
        return ""
    difference = v["difference_db"]
    radio = say.watt(v["radio_a_w"]), say.watt(v["radio_b_w"])
    if told == Told.BY_ROW:
        return say.text(
            "The power varied within a setup: each report was brought to the same power at the antenna by its own row (in "
            "the middle {difference}, {a} less {b})."
            if v["at"] == "antenna"
            else "The power varied within a setup: each report was brought to the same power by its own row (in the middle "
            "{difference}, {a} less {b}).",
            difference=say.db_signed(difference),
            a=a,
            b=b,
        )
    if v["at"] == "antenna":
        watts = say.text(
            "{a_w} with {a}, {b_w} with {b}, after cable and match",
            a_w=say.watt(v["a_w"]),
            a=a,
            b_w=say.watt(v["b_w"]),
            b=b,
        )
        from_ = (
            say.text("{radio} each", radio=radio[0])
            if radio[0] == radio[1]
            else say.text("{radio_a} and {radio_b}", radio_a=radio[0], radio_b=radio[1])
        )
        return say.text(
            "{more} at the antenna ({watts}; {from_} at the radio): it was taken off, and what is left is the antenna.",
            more=_more(difference, a, b, say),
            watts=watts,
            from_=from_,
        )
    if abs(difference) < SAME_POWER_DB:
        return say.text(
            "The study gives both setups the same power ({radio})."
            if told == Told.STUDY
            else "The rows give both setups the same power ({radio}).",
            radio=radio[0],
        )
    return say.text(
        "{more}, {radio_a} with {a} and {radio_b} with {b}: it was taken off, and what is left is the antenna with its "
        "feedline.",
        more=_more(difference, a, b, say),
        radio_a=radio[0],
        a=a,
        radio_b=radio[1],
        b=b,
    )


def _more(difference_db: float, a: str, b: str, say: Typography) -> str:
    """Which setup had the power: 'vertical had 7.0 dB more power'."""
    size = say.db(abs(difference_db), 1)
    if size == say.db(0.0, 1):
        return say.text("{a} and {b} had the same power", a=a, b=b)
    return say.text("{setup} had {size} more power", setup=a if difference_db > 0 else b, size=size)


def in_doubt(told: Told, v: Mapping[str, Any], a: str, b: str, *, say: Typography) -> str:
    """Why no difference can be called an antenna's, as what follows 'Cannot tell: '."""
    if told == Told.ONE_ONLY:
        if not v["known"]:
            return say.text(
                "{share} of the rows of a setup name no power, and powers differ or may differ: until they are known "
                "no difference is the antenna's.",
                share=say.share(v["blank"]),
            )
        other = b if v["known"] == a else a
        return say.text(
            "a power is known for {known} only; until that of {other} is, no difference is the antenna's.",
            known=v["known"],
            other=other,
        )
    named, rows = (_two_powers(v, who, a, b, say) for who in ("study", "rows"))
    return say.text(
        "you named {named}; the rows say {rows}. Which is right? Until then no difference is the antenna's.",
        named=named,
        rows=rows,
    )


def _two_powers(v: Mapping[str, Any], who: str, a: str, b: str, say: Typography) -> str:
    watts = [
        say.text("{watt} for {name}", watt=say.watt(v[f"{who}_{k}_w"]), name=name)
        for k, name in (("a", a), ("b", b))
        if f"{who}_{k}_w" in v
    ]
    known = f"{who}_db" in v
    difference = say.text(", a difference of {db}", db=say.db_signed(v[f"{who}_db"])) if known else ""
    return f"{say.listed(watts)}{difference}"


# --- where the power goes ---------------------------------------------------------------------------------------------


def budget(found: Budget, say: Typography) -> tuple[str, ...]:
    """The finding, and what stands behind it: a sentence each. The finding comes first and is always there."""
    return tuple(text for text in (_left(found, say), _loss(found, say), _swr(found, say), _miss(found, say)) if text)


def missing(found: Budget, say: Typography) -> tuple[str, ...]:
    """What would have to be known, as phrases: 'the power at the radio'."""
    return tuple(_no_loss(found, say) if what is Missing.LOSS else say.text(_MISSING[what]) for what in found.missing)


def line(found: Line, say: Typography) -> str:
    """A feedline: '20 m of RG-58 class'."""
    length = f"{say.plain(found.length_m)}{say.gap}m"
    if found.kind is not None:
        return say.text("{length} of {name}", length=length, name=feedline.find(found.kind).name)
    assert found.loss_db_per_100m is not None and found.loss_at_mhz is not None
    loss = say.text("{loss_db_per_100m}{gap}dB per 100{gap}m", loss_db_per_100m=say.plain(found.loss_db_per_100m))
    return say.text("{length} of cable ({loss} at {mhz})", length=length, loss=loss, mhz=_mhz(found.loss_at_mhz, say))


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
    return say.text(
        "{estimate} On lines as short as these it may miss by up to {most_db} either way.",
        estimate=_ESTIMATE,
        most_db=say.db(most_db, 2),
    )


def _left(found: Budget, say: Typography) -> str:
    lacks = ", ".join(missing(found, say))
    if found.power_at_radio_w is None:
        return say.text("What reaches the antenna is not known; missing: {lacks}.", lacks=lacks)
    given = watts(found.power_at_radio_w, say)
    if found.power_at_antenna_w is not None and found.power_at_antenna_dbm is not None:
        level = say.text(
            "{watts} ({power_at_antenna_dbm}{gap}dBm)",
            watts=watts(found.power_at_antenna_w, say),
            power_at_antenna_dbm=say.number(found.power_at_antenna_dbm),
        )
        return say.text("Of your {given}, {level} reach the antenna.", given=given, level=level)
    # Without the line's loss the bound would be the radio's own power, which says nothing.
    bound = (
        "" if found.matched_loss_db is None else say.text(", {watts} at most", watts=watts(found.at_most_w or 0.0, say))
    )
    return say.text(
        "How much of your {given} reaches the antenna is not known{bound}; missing: {lacks}.",
        given=given,
        bound=bound,
        lacks=lacks,
    )


def _loss(found: Budget, say: Typography) -> str:
    if found.matched_loss_db is None or found.line is None or found.frequency_mhz is None:
        return ""
    percent = f"{say.plain(found.spread_percent)}{say.gap}%" if found.spread_percent else ""
    spread = say.text(" (figures for the class differ by up to {percent})", percent=percent) if percent else ""
    loss = say.text(
        "{line} loses {matched_loss_db} when matched{spread}",
        line=line(found.line, say),
        matched_loss_db=say.db(found.matched_loss_db, 2),
        spread=spread,
    )
    matched = say.text("At {mhz} {loss}", mhz=_mhz(found.frequency_mhz, say), loss=loss)
    extra, total, swr = found.extra_loss_db, found.total_loss_db, found.swr_at_antenna
    if extra is None or total is None or swr is None:
        return f"{matched}{say.stop}"
    return say.text(
        "{matched}, about {extra} more from SWR {swr_value}, {total} in all.",
        matched=matched,
        extra=say.db(extra, 2),
        swr_value=_swr_value(swr, say),
        total=say.db(total, 2),
    )


def _swr(found: Budget, say: Typography) -> str:
    there, here = found.swr_at_antenna, found.swr_at_radio
    if there is None:
        return ""
    meter = say.text(
        "SWR {swr_value} at the antenna reads as {there} on a meter there",
        swr_value=_swr_value(there, say),
        there=say.number(there),
    )
    if here is None:
        return f"{meter}{say.stop}"
    # Only where a meter, which shows one digit, would show the difference.
    flatters = say.text(": a lossy line flatters") if round(here, 1) < round(there, 1) else ""
    tuner = f" {say.text(_TUNER)}" if here >= _TUNER_FROM_SWR else ""
    return say.text(
        "{meter} and as {here} at the radio{flatters}.{tuner}",
        meter=meter,
        here=say.number(here),
        flatters=flatters,
        tuner=tuner,
    )


def _miss(found: Budget, say: Typography) -> str:
    losses = found.total_loss_range_db
    if losses is None or (found.extra_swing_db or 0.0) < _SHOWN_SWING_DB:
        return ""
    least, most = say.number(losses[0], 2), say.db(losses[1], 2)
    return say.text(
        "{estimate} On a line of this length the whole loss may lie between {least} and {most}.",
        estimate=_ESTIMATE,
        least=least,
        most=most,
    )


def _no_loss(found: Budget, say: Typography) -> str:
    assert found.line is not None and found.frequency_mhz is not None
    lowest, highest = found.line.range_mhz
    known = say.text("known from {lowest} to {mhz}", lowest=say.plain(lowest), mhz=_mhz(highest, say))
    return say.text(
        "the loss of {line} at {mhz} ({known})",
        line=line(found.line, say),
        mhz=_mhz(found.frequency_mhz, say),
        known=known,
    )


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
    return say.text(
        "To start with at {mhz}: a quarter wave of {quarter}, a half wave of {half} (common practice, thin wire; "
        "{free_quarter} and {free_half} in free space); cut it a little long, measure, then trim.",
        mhz=_mhz(found.frequency_mhz, say),
        quarter=quarter,
        half=half,
        free_quarter=free_quarter,
        free_half=free_half,
    )


def trim(found: Trim, say: Typography) -> str:
    """What to do with a wire or whip, with the reminder to move half of it and measure again."""
    now, wanted = (
        say.number(found.resonant_mhz, 3),
        f"{say.number(found.wanted_mhz, 3)}{say.gap}MHz",
    )
    if round(found.change_percent, 1) == 0:
        return say.text(
            "Resonant at {now}{gap}MHz, wanted {wanted}: nothing worth trimming (less than 0.05{gap}%).",
            now=now,
            wanted=wanted,
        )
    values = {"now": now, "wanted": wanted, "percent": say.number(abs(found.change_percent))}
    longer = found.change_percent > 0
    if found.change_m is None:
        told = say.text(
            "From {now} to {wanted}: make it {percent}{gap}% longer; move half of it and measure again (common practice)."
            if longer
            else "From {now} to {wanted}: make it {percent}{gap}% shorter; move half of it and measure again (common practice).",
            **values,
        )
    else:
        change_m = abs(found.change_m)
        told = say.text(
            "From {now} to {wanted}: make it {percent}{gap}% longer, {length} in all; move half of it ({half}) and measure "
            "again (common practice)."
            if longer
            else "From {now} to {wanted}: make it {percent}{gap}% shorter, {length} in all; move half of it ({half}) and "
            "measure again (common practice).",
            length=_length(change_m, say),
            half=_length(change_m / 2, say),
            **values,
        )
    if found.is_far:
        told += say.text(
            " A step of more than {percent}{gap}% is unusual: make sure that the dip you measured is the resonance you mean.",
            percent=say.plain(FAR_PERCENT),
        )
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
    return say.text(
        "By geometry {distance_km}{gap}km takes at least {hops} off a mirror at {low}{gap}km for a take-off angle of "
        "{flat} degrees ({counts} at {steep} degrees), and at least {hops_2} at {high}{gap}km ({counts_2} at {steep} "
        "degrees).",
        distance_km=say.count(distance_km),
        hops=say.things(counts[low, flat], "hop"),
        low=say.plain(low),
        flat=say.plain(flat),
        counts=counts[low, steep],
        steep=say.plain(steep),
        hops_2=say.things(counts[high, flat], "hop"),
        high=say.plain(high),
        counts_2=counts[high, steep],
    )
