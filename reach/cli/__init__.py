"""The command line: arguments, progress, one-line errors, exit codes.

One module a command, loaded when it is asked for, so that `reach --help` is instant. Results go to stdout, progress and
errors to stderr. Exit codes: 0 done, 1 problems were found and --strict was given, 2 the user's input was wrong or a place
could not be read or written, 70 a bug in reach, 128 and a signal's number where one ended it.
"""

from __future__ import annotations

import contextlib
import difflib
import importlib
import os
import signal
import sys
from typing import Any, Final, cast

import click

from reach.base import memory, text
from reach.base.ways import Medium
from reach.errors import ReachError

# The name of each command is the name of its module; the line is what `reach --help` prints.
COMMANDS: Final = {
    "demo": "Run the whole walk on the bundled, made-up sample spots.",
    "run": "From CSV files or a study to a folder of maps, charts, tables and a page.",
    "vet": "Check files row by row and list what is wrong or doubtful.",
    "add": "Put exports into a collection that grows.",
    "remove": "Take exports out of a collection again.",
    "list": "What a collection holds: stations, days, files.",
    "compare": "Was setup A better than setup B, by how many dB, and how sure is that?",
    "season": "Is the station still as good as weeks ago, and since when not?",
    "plan": "How long to alternate two setups to tell them apart; writes a schedule.",
    "budget": "What leaves the antenna: cable, mismatch, power, trimming.",
    "deck": "Slides that can be edited, the same as a PDF, and a one-page handout.",
    "motion": "A film of one day of reports with the night side moving.",
    "desk": "A page in your own browser, for everything without typing.",
    "locator": "Locator to position and back; distance and bearing between two.",
}


class _Lazy(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return [*COMMANDS]  # once its command is loaded, `list` is the module of that name here

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        return cast(click.Command, importlib.import_module(f"reach.cli.{cmd_name}").command)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            near = difflib.get_close_matches(args[0], COMMANDS, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"commands: {', '.join(COMMANDS)}."
            raise click.UsageError(f"No such command {args[0]!r}; {hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([*COMMANDS.items()])


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="reach", message="%(prog)s %(version)s")
def reach() -> None:
    """Turn reception reports into an honest answer: how far, where to and when a few watts reached.

    CSV spots in; checked, mapped, measured, compared, shown. Nothing goes on the network that you do not name.

    \b
      reach demo                                       see what it does
      reach run spots.csv --locator IO51es --power 5   your own spots
      reach run my-study.toml                          with setups, sessions, a comparison
    """


def main(args: list[str] | None = None) -> None:
    """Run the command line. A ReachError becomes one line on stderr and exit code 2, anything unforeseen one that names a
    report, and exit code 70."""
    memory.give_back()
    _clean_up_when_ended()
    os.environ["MPLBACKEND"] = "agg"  # a notebook's would be looked for, and no window is ever opened
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError):  # a stream put in by a test may have no encoding to set
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        code = reach.main(args, prog_name="reach", standalone_mode=False)
        sys.stdout.flush()  # a full disk shows here at the latest
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        sys.exit(2)
    except Exception as error:
        code, sentence = told(error, sys.argv[1:] if args is None else args)
        _complain(sentence)
    sys.exit(code if isinstance(code, int) else 0)


def told(error: Exception, args: list[str], medium: Medium = Medium.OPTION) -> tuple[int, str]:
    """The exit code and the sentence for what went wrong. medium : who reads it"""
    match error:
        case click.ClickException():
            return 2, error.format_message()
        case click.Abort(__cause__=EOFError()):  # nothing is asked of the user: Python reads its own compiled files so
            where = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
            return (
                2,
                f"a file that Python compiled is cut off, as by a disc that was full; remove the folders __pycache__ below {where}.",
            )
        case click.Abort():
            return 130, "stopped."
        case ReachError():
            return 2, error.said(medium)
        case OSError(errno=int()) if error.strerror:
            _close(sys.stdout)
            where = f"{error.filename}: " if error.filename is not None else ""
            return 2, f"{where}cannot be read or written ({error.strerror})."
        case UnicodeEncodeError():  # half of a pair of surrogates, which no file name and no file can hold
            return 2, f"{error.object!r}: holds something that is no character; write it anew."
        case MemoryError():
            return 2, "the memory of this machine does not suffice for these files; give fewer of them at a time."
    from reach.cli import bug

    return bug.EXIT, bug.sentence(error, args)


def _close(stream: Any) -> None:
    """What could not be written is let go, so that Python does not try once more at the end and complain of it."""
    with contextlib.suppress(OSError, AttributeError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _clean_up_when_ended() -> None:
    """A terminal that is closed, or a polite order to end, leaves by the same door as an error: nothing stays half done."""

    def leave(number: int, frame: object) -> None:
        raise SystemExit(128 + number)

    for name in ("SIGTERM", "SIGHUP"):
        with contextlib.suppress(AttributeError, ValueError):  # no such signal here; not the main thread
            number = getattr(signal, name)
            if signal.getsignal(number) is signal.SIG_DFL:  # who wants it ignored, as nohup does, has it ignored
                signal.signal(number, leave)


def _complain(sentence: str) -> None:
    lines = "\n".join(text.one_line(line) for line in sentence.split("\n"))
    with contextlib.suppress(OSError):
        click.secho(f"reach: {lines}", err=True, fg=None if os.environ.get("NO_COLOR") else "red")
