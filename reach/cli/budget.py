"""`reach budget`: what leaves the antenna. Cable, mismatch, power, trimming; for one line or for a whole study."""

from __future__ import annotations

import shutil
import sys
from dataclasses import asdict, dataclass
from typing import Any

import click

from reach import study as studies
from reach.base import bands
from reach.base.words import TERMINAL
from reach.cli import amounts, console
from reach.radio import feedline, mismatch, power, trim
from reach.radio.feedline import Line
from reach.radio.power import Budget
from reach.radio.trim import StartingLength, Trim
from reach.tell.sentences import cautions
from reach.tell.sentences import power as sentences

Budgets = list[tuple[str, str, Budget]]  # setup, band, Budget; empty texts where there is none
Length = Trim | StartingLength

EXAMPLE = "such as: reach budget --power 5 --cable 'RG-58 class' --length 20 --frequency 14.1 --swr 1.5"
TABLE_MHZ = (3.6, 7.1, 14.1, 28.5)


@dataclass(frozen=True)
class _Given:
    """The options as they came; None where not given."""

    power_w: float | None
    cable: str | None
    length_m: float | None
    loss_db_per_100m: float | None
    loss_at_mhz: float | None
    frequency_mhz: float | None
    bands: tuple[str, ...]
    region: int
    swr: float | None
    resistance_ohm: float | None
    reactance_ohm: float | None
    forward_w: float | None
    reflected_w: float | None
    measured_at: str | None

    def line_options(self) -> list[str]:
        """Options that a study file says itself, where they were given."""
        named = {
            "--power": self.power_w, "--cable": self.cable, "--length": self.length_m, "--swr": self.swr,
            "--loss-db-per-100m": self.loss_db_per_100m, "--loss-at-mhz": self.loss_at_mhz,
            "--frequency": self.frequency_mhz, "--resistance": self.resistance_ohm, "--reactance": self.reactance_ohm,
            "--forward": self.forward_w, "--reflected": self.reflected_w, "--measured-at": self.measured_at,
        }  # fmt: skip
        return [name for name, value in named.items() if value is not None]


@click.command("budget", short_help="What leaves the antenna: cable, mismatch, power, trimming.")
@click.argument("study", required=False, metavar="[STUDY.toml]")
@click.option("--power", "power_w", type=amounts.WATT, metavar="WATT", help="Power at the radio.")
@click.option("--cable", metavar="CLASS", help="Class of cable, such as 'RG-58 class'; --cables lists them.")
@click.option("--length", "length_m", type=amounts.METRES, metavar="METRES", help="Length of the feedline.")
@click.option(
    "--loss-db-per-100m",
    type=amounts.Amount(0, 10_000),
    metavar="DB",
    help="Your own loss figure instead of a class ...",
)
@click.option("--loss-at-mhz", type=amounts.MHZ, metavar="MHZ", help="... and the frequency it belongs to.")
@click.option("--frequency", "frequency_mhz", type=amounts.MHZ, metavar="MHZ", help="Frequency.")
@click.option("--band", "bands", multiple=True, metavar="BAND", help="The middle of a band, such as 20m. Repeatable.")
@click.option("--region", type=click.Choice(["1", "2", "3"]), default="1", help="ITU region, for the middle of a band.")
@click.option("--swr", type=amounts.SWR, help="SWR.")
@click.option("--resistance", "resistance_ohm", type=amounts.OHM, metavar="OHM", help="R, together with --reactance.")
@click.option("--reactance", "reactance_ohm", type=amounts.OHM, metavar="OHM", help="X, with its sign.")
@click.option(
    "--forward", "forward_w", type=amounts.Amount(0, 100_000), metavar="WATT", help="Forward power, with --reflected."
)
@click.option("--reflected", "reflected_w", type=amounts.Amount(0, 100_000), metavar="WATT", help="Reflected power.")
@click.option(
    "--measured-at",
    type=click.Choice(["antenna", "radio"]),
    help="Where SWR, R and X or the watts were measured; SWR, R, X: antenna, watts: radio, unless given.",
)
@click.option(
    "--resonant-mhz", type=amounts.MHZ, metavar="MHZ", help="Trim advice: where the wire or whip is resonant."
)
@click.option(
    "--wanted-mhz", type=amounts.MHZ, metavar="MHZ", help="Where it should be; --frequency or --band if left out."
)
@click.option("--element-length", "element_m", type=amounts.METRES, metavar="METRES", help="Its present length.")
@click.option("--cables", is_flag=True, help="List the classes of cable and stop.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def command(
    study: str | None,
    resonant_mhz: float | None,
    wanted_mhz: float | None,
    element_m: float | None,
    cables: bool,
    as_json: bool,
    region: str,
    **options: Any,
) -> None:
    """Tell how much of the radio's power reaches the antenna, and where the rest goes.

    Give the feedline and the match, or a study file for all its setups on all bands. What is not given is named as
    missing, and nothing is guessed. Losses from a mismatch are estimates. Antenna gain is not assumed.

    \b
      reach budget --power 5 --cable "RG-58 class" --length 20 --band 20m --swr 1.5
      reach budget --power 5 --loss-db-per-100m 4.5 --loss-at-mhz 10 --length 12 --band 20m --swr 2
      reach budget --power 5 --cable rg213 --length 30 --frequency 7.1 --resistance 42 --reactance -11
      reach budget --cable rg58 --length 15 --frequency 14.1 --forward 5 --reflected 0.2
      reach budget --resonant-mhz 14.150 --wanted-mhz 14.050 --element-length 5.05
      reach budget my-study.toml --band 20m --band 40m
      reach budget --cables
    """
    if cables:
        _list_cables(as_json)
        return
    given = _Given(region=int(region), **options)
    found, notes = _of_study(study, given) if study else _of_options(given)
    lengths = _lengths(found if not study else [], resonant_mhz, wanted_mhz, element_m)
    if not found and not lengths:
        raise click.UsageError(f"Give a study file, a feedline, or a frequency to trim to, {EXAMPLE}")
    powers = [each.power_at_radio_w for *_, each in found if each.power_at_radio_w is not None]
    show = _show_json if as_json else _show
    show(found, notes, lengths, max(powers, default=5.0), one=not study and len(found) == 1)


def _of_study(path: str, given: _Given) -> tuple[Budgets, list[str]]:
    """All setups of a study on the bands that were asked for, or on all from 160 to 6 metres."""
    clash = given.line_options()
    if clash:
        raise click.UsageError(f"{', '.join(clash)}: a study file says that itself; give only --band with it.")
    study = studies.load(path)
    names = [_band(name) for name in given.bands] or [n for n in bands.names() if 6 <= bands.wavelength_m(n) <= 160]
    found = [(setup, band, each) for (setup, band), each in power.budgets(study, names).items()]
    shared = [
        len(set(names) - setup.bands.keys()) for setup in study.setups.values() if power.swr_of(setup) is not None
    ]
    several = max(shared, default=0) > 1
    return found, [sentences.ONE_SWR] if several else []


def _of_options(given: _Given) -> tuple[Budgets, list[str]]:
    """The one line that the options describe, at each frequency."""
    if not given.line_options() and not given.bands:
        return [], []
    line, (swr, at), power_w = _line(given), _match(given), given.power_w
    notes = []
    if power_w is None and given.forward_w is not None and given.reflected_w is not None and at == "radio":
        power_w = given.forward_w - given.reflected_w
        notes.append("Power into the feedline is taken as forward less reflected watts.")
    found: Budgets = []
    for band, mhz in _frequencies(given):
        there, note = _at_antenna(swr, at, line, mhz)
        notes += [note] if note and note not in notes else []
        found.append(("", band, power.of_line(line, there, power_w, mhz)))
    return found, notes


def _line(given: _Given) -> Line | None:
    parts = (given.cable, given.length_m, given.loss_db_per_100m, given.loss_at_mhz)
    if parts == (None, None, None, None):
        return None
    if given.length_m is None:
        raise click.UsageError("A feedline needs its --length in metres.")
    return Line(given.length_m, given.cable, given.loss_db_per_100m, given.loss_at_mhz)


def _match(given: _Given) -> tuple[float | None, str]:
    """The SWR that was given, in whatever way, and where it was measured."""
    impedance = (given.resistance_ohm, given.reactance_ohm)
    watts = (given.forward_w, given.reflected_w)
    if sum(way not in ((None,), (None, None)) for way in ((given.swr,), impedance, watts)) > 1:
        raise click.UsageError("Give the match in one way: --swr, or --resistance and --reactance, or the watts.")
    for names, pair in (("--resistance and --reactance", impedance), ("--forward and --reflected", watts)):
        if (pair[0] is None) != (pair[1] is None):
            raise click.UsageError(f"{names} go together.")
    if watts[0] is not None and watts[1] is not None:
        return float(mismatch.swr_of_watts(watts[0], watts[1])), given.measured_at or "radio"
    at = given.measured_at or "antenna"
    if impedance[0] is not None and impedance[1] is not None:
        return float(mismatch.swr_of_impedance(impedance[0], impedance[1])), at
    return (None if given.swr is None else float(mismatch.check_swr(given.swr))), at


def _frequencies(given: _Given) -> list[tuple[str, float | None]]:
    if given.frequency_mhz is not None and given.bands:
        raise click.UsageError("Give either --frequency or --band.")
    if not given.bands:
        return [("", given.frequency_mhz)]
    return [(name, bands.middle_mhz(name, given.region)) for name in map(_band, given.bands)]


def _band(text: str) -> str:
    name = "".join(text.split()).lower()
    if name not in bands.names():
        raise click.UsageError(f"--band {text!r} is no band; there are {', '.join(bands.names())}.")
    return name


def _at_antenna(swr: float | None, at: str, line: Line | None, mhz: float | None) -> tuple[float | None, str]:
    """The SWR at the antenna, and what there is to say about it."""
    if swr is None or at == "antenna":
        return swr, ""
    if line is None or mhz is None:
        lacks = "the feedline" if line is None else "the frequency"
        return None, f"SWR {swr:.2f} was measured at the radio; without {lacks} that at the antenna is not known."
    there = float(mismatch.swr_at_antenna(swr, line.matched_loss_db(mhz)))
    return there, f"SWR {swr:.2f} was measured at the radio; what it is at the antenna follows from the line's loss."


def _lengths(
    found: Budgets, resonant_mhz: float | None, wanted_mhz: float | None, element_m: float | None
) -> list[Length]:
    """Trim advice where a resonance was given, starting lengths for each frequency."""
    asked = [each.frequency_mhz for *_, each in found if each.frequency_mhz is not None]
    wanted = [wanted_mhz] if wanted_mhz is not None else asked
    if resonant_mhz is None:
        if element_m is not None:
            raise click.UsageError("--element-length needs --resonant-mhz, where the element is resonant now.")
        return [trim.starting_length(mhz) for mhz in wanted]
    if len(wanted) != 1:
        raise click.UsageError("--resonant-mhz needs one frequency to go to: --wanted-mhz.")
    return [trim.trim(resonant_mhz, wanted[0], length_m=element_m), trim.starting_length(wanted[0])]


def _show(found: Budgets, notes: list[str], lengths: list[Length], power_w: float, *, one: bool) -> None:
    if one:
        _print_one(found[0][2])
    elif found:
        _print_many(found)
    for text in [*notes, *map(_length, lengths)]:
        _say(text)
    click.echo("\nCautions")
    for text in cautions.lines(power_w, TERMINAL):
        _say(text, indent="  ")


def _length(found: Length) -> str:
    return sentences.trim(found, TERMINAL) if isinstance(found, Trim) else sentences.starting_length(found, TERMINAL)


def _print_one(budget: Budget) -> None:
    rows = [
        ("power at the radio", _power(budget.power_at_radio_w, budget.power_at_radio_dbm)),
        ("feedline", _line_text(budget)),
        ("loss when matched", _number(budget.matched_loss_db, 2, " dB")),
        ("SWR at the antenna", _number(budget.swr_at_antenna, 2)),
        ("return loss there", _number(budget.return_loss_db, 2, " dB")),
        ("mismatch loss there, for information", _number(budget.mismatch_loss_db, 2, " dB")),
        ("SWR seen at the radio", _number(budget.swr_at_radio, 2)),
        ("extra loss from that SWR, about", _number(budget.extra_loss_db, 2, " dB")),
        ("loss in all, about", _number(budget.total_loss_db, 2, " dB")),
        ("power at the antenna", _power(budget.power_at_antenna_w, budget.power_at_antenna_dbm)),
    ]
    console.table("Power budget", ["", ""], [[name, value or "not known"] for name, value in rows], left=(0, 1))
    click.echo("")
    for text in sentences.budget(budget, TERMINAL):
        _say(text)


def _print_many(found: Budgets) -> None:
    headers = [
        "setup",
        "band",
        "MHz",
        "radio",
        "feedline",
        "matched dB",
        "SWR",
        "at radio",
        "extra dB",
        "antenna",
        "dBm",
    ]
    rows = [
        [
            setup,
            band,
            _number(b.frequency_mhz, 3),
            _power(b.power_at_radio_w),
            _line_text(b),
            _number(b.matched_loss_db, 2),
            _number(b.swr_at_antenna, 2),
            _number(b.swr_at_radio, 2),
            _number(b.extra_loss_db, 2),
            _power(b.power_at_antenna_w),
            _number(b.power_at_antenna_dbm, 1),
        ]
        for setup, band, b in found
    ]
    console.table("Power budget", headers, [[cell or "?" for cell in row] for row in rows], left=(0, 1, 4))
    click.echo("")
    for text in [*_missing(found), *_estimate(found)]:
        _say(text)


def _estimate(found: Budgets) -> list[str]:
    """How far off the estimates of extra loss may be, once for all of them."""
    told = sentences.swing(max((each.extra_swing_db or 0.0 for *_, each in found), default=0.0), TERMINAL)
    return [told] if told else []


def _missing(found: Budgets) -> list[str]:
    """What is not known, once for all the bands that lack the same."""
    lacking: dict[tuple[str, str], list[str]] = {}
    for setup, band, budget in found:
        if budget.missing:
            lacking.setdefault((setup, ", ".join(sentences.missing(budget, TERMINAL))), []).append(band)
    return [
        f"Missing for {setup or 'the station'} on {', '.join(names)}: {what}."
        for (setup, what), names in lacking.items()
    ]


def _show_json(found: Budgets, notes: list[str], lengths: list[Length], power_w: float, *, one: bool) -> None:
    def plain(setup: str, band: str, budget: Budget) -> dict[str, Any]:
        return {
            "setup": setup or None,
            "band": band or None,
            "line": _line_text(budget) or None,
            **budget.numbers(),
            "missing": list(sentences.missing(budget, TERMINAL)),
            "sentences": list(sentences.budget(budget, TERMINAL)),
        }

    console.as_json(
        {
            "budgets": [plain(*each) for each in found],
            "notes": notes,
            "lengths": [{**asdict(each), "sentence": _length(each)} for each in lengths],
            "cautions": cautions.lines(power_w, TERMINAL),
        }
    )


def _list_cables(as_json: bool) -> None:
    if as_json:
        console.as_json([asdict(each) for each in feedline.classes()])
        return
    rows = []
    for each in feedline.classes():
        losses = [f"{float(each.loss_db_per_100m(f)):.2f}" if each.lowest_mhz <= f else "?" for f in TABLE_MHZ]
        rows.append([each.name, *losses, f"{each.lowest_mhz:g} to {each.highest_mhz:g}", f"{each.spread_percent:g} %"])
    headers = ["class of cable", *(f"{f:g} MHz" for f in TABLE_MHZ), "known, MHz", "figures differ by up to"]
    console.table("Matched loss in dB per 100 m", headers, rows)
    click.echo("")
    _say("Typical values: cables of one class differ and age adds loss; your cable's own figure is better.")


def _say(text: str, *, indent: str = "") -> None:
    """A sentence on stdout: one line when piped, wrapped at words on a terminal."""
    width = min(shutil.get_terminal_size().columns, 100) if sys.stdout.isatty() else 10_000
    click.echo(click.wrap_text(text, width, initial_indent=indent, subsequent_indent=indent))


def _number(value: float | None, digits: int, unit: str = "") -> str:
    return "" if value is None else f"{value:.{digits}f}{unit}"


def _power(power_w: float | None, dbm: float | None = None) -> str:
    if power_w is None:
        return ""
    watts = sentences.watts(power_w, TERMINAL)
    return watts if dbm is None else f"{watts}, {dbm:.2f} dBm"


def _line_text(budget: Budget) -> str:
    return sentences.line(budget.line, TERMINAL) if budget.line else ""
