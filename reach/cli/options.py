"""Options that several commands share, and the study they add up to."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from reach.base import tongue
from reach.base.tongue import LANGUAGES
from reach.cli import amounts

if TYPE_CHECKING:
    from datetime import datetime

    from reach.study import Study

F = TypeVar("F", bound=Callable[..., Any])


def station(command: F) -> F:
    """--callsign, --locator, --power, --heard."""
    for option in (
        click.option(
            "--heard/--sent",
            "heard",
            default=None,
            help="Study what the station heard of others, or what others heard of it.  [default: sent]",
        ),
        click.option("--power", "power_w", type=amounts.WATT, metavar="WATT", help="Power at the radio."),
        click.option("--locator", metavar="LOCATOR", help="The station's own locator, six characters."),
        click.option("--callsign", metavar="CALL", help="The station's callsign."),
    ):
        command = option(command)
    return command


def schedule(command: F) -> F:
    """--schedule, and what is wrong with its clock: --schedule-zone, --schedule-shift, --schedule-confirmed."""
    for option in (
        click.option("--schedule-confirmed", is_flag=True, help="Schedule and sessions are right, whatever the reports say."),
        click.option("--schedule-shift", "schedule_shift_min", type=amounts.Amount(-1440, 1440), metavar="MIN",
                     help="Minutes to add to the times of the schedule, or of the sessions."),
        click.option("--schedule-zone", metavar="ZONE", help="Of the schedule's times, such as +01:00.  [default: UTC]"),
        click.option("--schedule", type=click.Path(), help="CSV with start, end, setup: which setup was on when."),
    ):  # fmt: skip
        command = option(command)
    return command


def selection(command: F) -> F:
    """--from, --to, --band: which of the spots."""
    for option in (
        click.option(
            "--band", "bands", multiple=True, metavar="BAND", help="Only spots on this band, such as 20m. Repeatable."
        ),
        click.option("--to", "end", metavar="DAY", help="Only spots before this day or time (UTC)."),
        click.option("--from", "start", metavar="DAY", help="Only spots from this day or time (UTC) on."),
    ):
        command = option(command)
    return command


def compared(command: F) -> F:
    """--a, --b, --setup: which setups are compared."""
    for option in (
        click.option(
            "--setup", "setups", multiple=True, metavar="NAME", help="Three to eight of them: all at once. Repeatable."
        ),
        click.option("--b", "name_b", metavar="NAME", help="The other."),
        click.option("--a", "name_a", metavar="NAME", help="The one setup; the study's `compare` where left out."),
    ):
        command = option(command)
    return command


replace = click.option(
    "--replace",
    is_flag=True,
    help="Write over what is there already, your changes to it included; never over other files.",
)
fixes = click.option(
    "--fixes",
    type=click.Path(),
    help="Corrections you approved, from `reach vet --write-fixes`.  [default: the study's]",
)


def reading(command: F) -> F:
    """--column, --four-character, --day-first/--month-first, --zone, --region, --now."""
    for option in (
        click.option(
            "--now",
            metavar="TIME",
            help="What counts as now (UTC): no report can be later.  [default: the clock's hour]",
        ),
        click.option(
            "--region",
            "itu_region",
            type=click.Choice(["1", "2", "3"]),
            help="ITU region whose band edges count; that of the locator where left out.",
        ),
        click.option(
            "--zone",
            "zones",
            multiple=True,
            metavar="[FILE=]+HH:MM",
            help="Zone of times that name none, such as +01:00; else UTC. Of one file: --zone log.csv=+01:00. Repeatable.",
        ),
        click.option("--day-first/--month-first", "day_first", default=None, help="How to read 03/05/2026."),
        click.option("--four-character", is_flag=True, help="Accept four-character locators such as JN58."),
        click.option(
            "--column",
            "columns",
            multiple=True,
            metavar="OURS=THEIRS",
            help="Which header (or number of a column) holds what, such as --column callsign=Reporter. Repeatable.",
        ),
    ):
        command = option(command)
    return command


language = click.option(
    "--language",
    type=click.Choice(list(LANGUAGES)),
    help="Of page, pictures, slides, handout and film.  [default: the study's, else the system's]",
)


local_time = click.option(
    "--local-time",
    metavar="ZONE",
    help="Show local time beside UTC, such as Europe/Berlin (IANA name).  [default: the study's, else UTC alone]",
)


def in_language(base: Study, asked: str | None) -> Study:
    """The study in the language that was asked for, else its own, else the system's: of what is written for people. What the
    terminal says, and the tables, stay English."""
    from reach import study

    spoken = asked or base.language or tongue.of_environment(os.environ)
    if max(LANGUAGES[spoken]) > "\u024f":  # the bundled typefaces have all Latin letters; others need a look
        from reach.draw import scripts

        if scripts.drawn_in(spoken) != spoken:
            click.echo(
                f"No typeface on this machine has the characters of {spoken} ({LANGUAGES[spoken]}): the page speaks it, but "
                "pictures, slides, handout and film speak English.",
                err=True,
            )
    return base if spoken == base.spoken else study.changed(base, language=spoken)


def of_spots(command: F) -> F:
    """What every command takes that goes the whole way: whose spots, how they are read, which of them, which
    setup was on when, corrections."""
    for option in (fixes, schedule, selection, reading, station):
        command = option(command)
    return command


def study_from(files: tuple[str, ...], **given: Any) -> Study:
    """The study that the arguments add up to: a study file, changed by what was given, or one made from files.

    files : CSV files and globs, URLs of such, or one study file (.toml), or one collection
    A callsign of another station than the study's own asks it of that one, and nothing that it says of its own counts then.
    StudyError where the values do not make a study.
    """
    return changed(_base(_fetched(files), given.get("callsign")), **given)


def _fetched(files: tuple[str, ...]) -> tuple[str, ...]:
    """The files with those that lie elsewhere fetched, into a folder that is gone when the command ends."""
    from reach.read import remote, sources

    if not any(map(remote.is_url, files)):
        return files
    folder = Path(click.get_current_context().with_resource(tempfile.TemporaryDirectory(prefix="reach-")))
    found: list[str] = []
    for name in files:
        for url in remote.listed(name) if remote.is_url(name) else ():
            found.append(str(remote.fetch(url, folder / str(len(found)), most=sources.LARGEST)))
        found += [] if remote.is_url(name) else [name]
    return tuple(found)


def none_elsewhere(files: tuple[str, ...], option: str) -> None:
    """A usage error where a file is named by a URL and an option needs files that stay."""
    from reach.read import remote

    if any(map(remote.is_url, files)):
        raise click.UsageError(f"{option}: a study names files on this machine; fetch them first.")


def changed(
    base: Study,
    *,
    callsign: str | None = None,
    locator: str | None = None,
    power_w: float | None = None,
    columns: tuple[str, ...] = (),
    four_character: bool = False,
    day_first: bool | None = None,
    zones: tuple[str, ...] = (),
    itu_region: str | None = None,
    title: str | None = None,
    schedule: str | None = None,
    schedule_zone: str | None = None,
    schedule_shift_min: float | None = None,
    schedule_confirmed: bool = False,
    heard: bool | None = None,
    start: str | None = None,
    end: str | None = None,
    bands: tuple[str, ...] = (),
    now: str | None = None,
    name_a: str | None = None,
    name_b: str | None = None,
    setups: tuple[str, ...] = (),
    local_time: str | None = None,
) -> Study:
    """A study changed by what was given on the command line. StudyError where the values do not make a study."""
    from reach import study

    station = _given(callsign=callsign, locator=locator, power_w=power_w)
    options = _given(
        columns={**base.options.columns, **pairs(columns)} if columns else None,
        four_character_locators=four_character or None,
        day_first=day_first,
        zone=next((_offset(text) for text in reversed(zones) if "=" not in text), None),
        itu_region=int(itu_region) if itu_region else None,
    )
    of_files = [text.rpartition("=") for text in zones if "=" in text]
    readings = [{"file": name, "zone": _offset(zone)} for name, _, zone in of_files]
    top = _given(
        readings=[*(each.model_dump() for each in base.readings), *readings] if readings else None,
        title=title,
        schedule=str(Path(schedule).absolute()) if schedule else None,
        schedule_zone=schedule_zone,
        schedule_shift_min=schedule_shift_min,
        schedule_confirmed=schedule_confirmed or None,
        direction=None if heard is None else "heard" if heard else "sent",
        start=moment(start, "--from"),
        end=moment(end, "--to"),
        now=moment(now, "--now"),
        bands=list(bands) or None,
        local_time=local_time,
        compare=_compared(base, name_a, name_b, setups),
    )
    return study.changed(base, station=station, options=options, **top)


def two_or_several(
    name_a: str | None, name_b: str | None, setups: tuple[str, ...]
) -> tuple[str | None, str | None, tuple[str, ...]]:
    """--a, --b and --setup as (A, B, three setups and more): two given with --setup are A and B. A usage error where they
    are mixed, or where there is one alone."""
    if len(setups) == 2 and not (name_a or name_b):
        return setups[0], setups[1], ()
    if setups and (name_a or name_b or len(setups) == 1):
        raise click.UsageError("name two setups with --a and --b, or three to eight with --setup.")
    return name_a, name_b, setups


def _compared(base: Study, name_a: str | None, name_b: str | None, setups: tuple[str, ...]) -> dict[str, object] | None:
    """The study's `compare` as the command line has it; None where it says nothing of it."""
    a, b, several = two_or_several(name_a, name_b, setups)
    control = base.compare.control if base.compare else None
    if several:
        return {"setups": list(several), "control": control}
    if not (a or b):
        return None
    two = base.compare.two if base.compare else None
    a, b = a or (two[0] if two else None), b or (two[1] if two else None)
    if a is None or b is None:
        raise click.UsageError("name both setups, with --a and --b.")
    return {"a": a, "b": b, "control": control}


def moment(text: str | None, option: str) -> datetime | None:
    """A day or a time in UTC; a usage error where it is none."""
    if text is None:
        return None
    from datetime import datetime

    from reach import study

    try:
        return study.utc(datetime.fromisoformat(text.strip()))
    except ValueError as error:
        why = f"; {error}" if str(error).startswith("a time lies") else ""
        raise click.UsageError(
            f"{option}: {text!r} is no day or time{why}; wanted one such as 2026-10-01, or 2026-10-01T18:00."
        ) from None


def _offset(zone: str) -> str:
    """A zone as a study writes it: UTC+1 is +01:00. A usage error where it is none."""
    from reach.read import understood

    try:
        return understood.zone_text(understood.zone_of(zone))
    except ValueError as error:
        raise click.UsageError(f"--zone: {error}.") from None


def _base(files: tuple[str, ...], callsign: str | None) -> Study:
    from reach import study

    if len(files) == 1 and files[0].lower().endswith(".toml"):
        from reach.assign import owners

        return owners.asked_of(study.load(files[0]), callsign)
    if len(files) == 1 and Path(files[0]).is_dir():
        from reach.archive import asked, collection

        if collection.is_one(Path(files[0])):
            return asked.study_of(Path(files[0]), callsign)
    named = [name for name in files if name.lower().endswith(".toml")]
    if named:
        raise click.UsageError(f"{named[0]}: a study file stands alone; name its spot files inside it, under `files`.")
    return study.Study(files=list(files))


def read_by(files: tuple[str, ...], study: Study | None, *more: str | None) -> list[Path]:
    """Every file that a command is about to read, so that none is written over.

    files : as given to the command; study : what they add up to
    more : others that it reads, such as fixes; None where there is none
    """
    from reach.tell import files as written

    study_files = [Path(name) for name in files if name.lower().endswith(".toml")]
    return [*study_files, *written.read_by(study), *(Path(name) for name in more if name)]


def pairs(columns: tuple[str, ...]) -> dict[str, str]:
    """OURS=THEIRS texts as a mapping; a usage error where one has no equals sign."""
    found = {}
    for text in columns:
        ours, equals, theirs = text.partition("=")
        if not (equals and ours.strip() and theirs.strip()):
            raise click.UsageError(f"--column {text!r}: write OURS=THEIRS, such as --column callsign=Reporter.")
        found[ours.strip()] = theirs.strip()
    return found


def _given(**values: Any) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}
