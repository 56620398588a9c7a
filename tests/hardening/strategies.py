"""What may be thrown at the command line, made from its own declarations: options and arguments from click's, studies from
pydantic's, and exports, schedules and fixes from their headers. A new option or key is attacked the day it is born.

Values are of three kinds: such as are meant, such as lie at the edge, and such as nobody means.
"""

from __future__ import annotations

import importlib
import types
from collections.abc import Callable, Sequence
from datetime import date, datetime
from itertools import chain
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin

import click
import tomlkit
from hypothesis import strategies as st
from pydantic import BaseModel

from reach.cli import COMMANDS, amounts
from reach.study import Study

MEANT = (
    "EI4QTB/P", "EI9QUC", "IO51es", "IO51", "JN58td", "vertical", "wire", "20m", "40m,20m", "5", "14.15", "-20", "+01:00", "UTC+1",
    "2026-05-16", "2026-05-16 18:00", "2026-05-16T18:00:00Z", "callsign=callsign", "snr=5", "1280x720", "320x180", "de", "light",
)  # fmt: skip
ODD = (
    "", " ", "-", "--", "nan", "inf", "-1", "1e308", "1e-320", "9" * 400, "9999-12-31", "0001-01-01T00:00:00+14:00", "2026-02-31",
    "=", "a=", "=b", "a=b=c", "\x1b[31mred", "\u202eabc", "$\\foo{$", "<script>alert(1)</script>", "=1+1", "@SUM(A1)", "../..", "/", "~nobody9",
    "\u0661\u0662", "\ud83d", "x" * 3000, "IO51es\n", 'a"b', "a;b", "Z\u00fcrich", "\u4e2d\u6587", "\u200b", "NUL", "a\\b", "%s", "{x}", "*",
)  # fmt: skip
FILES = (
    "spots.csv", "study.toml", "schedule.csv", "fixes.csv", "nowhere.csv", "nowhere/deep.csv", "folder", "collection", "out", "*.csv",
    "spots.csv.gz", "out.mp4",
)  # fmt: skip
TEXT = st.one_of(*[st.sampled_from(MEANT)] * 4, st.sampled_from(ODD), st.text(max_size=12))
PATH = st.one_of(*[st.sampled_from(FILES)] * 4, st.sampled_from(ODD))


# --- the command line -------------------------------------------------------------------------------------------------


def commands(names: Sequence[str] = tuple(name for name in COMMANDS if name != "demo")) -> st.SearchStrategy[list[str]]:
    """A whole command line. names : of the commands to draw from (the demo takes no input)"""
    return st.sampled_from(list(names)).flatmap(_command)


def params(name: str) -> list[click.Parameter]:
    """What a command declares."""
    return list(importlib.import_module(f"reach.cli.{name}").command.params)


def _command(name: str) -> st.SearchStrategy[list[str]]:
    declared = params(name)
    arguments = [_argument(each) for each in declared if isinstance(each, click.Argument)]
    options = st.lists(st.one_of([_option(each) for each in declared if isinstance(each, click.Option)]), max_size=3)
    return st.tuples(options, *arguments).map(lambda parts: [name, *chain(*parts[1:]), *chain(*parts[0])])


def _argument(param: click.Argument) -> st.SearchStrategy[list[str]]:
    one = PATH if "FILE" in (param.metavar or "").upper() or "COLLECTION" in (param.metavar or "") else TEXT
    most = 1 if param.nargs == 1 else 3
    return st.lists(one.map(_as_value), min_size=int(param.required), max_size=most)


def _as_value(text: str) -> str:
    return text.replace("\0", "") or "x"


def _option(param: click.Option) -> st.SearchStrategy[list[str]]:
    names = st.sampled_from([*param.opts, *param.secondary_opts])
    if param.is_flag:
        return names.map(lambda name: [name])
    return st.tuples(names, value_of(param)).map(
        lambda both: [f"{both[0]}={both[1]}"] if both[0].startswith("--") else list(both)
    )


def value_of(param: click.Option) -> st.SearchStrategy[str]:
    """Values of an option, meant and not."""
    kind = param.type
    if isinstance(kind, amounts.Amount):
        edges = [kind.low, kind.high, kind.low - 1, kind.high + 1]
        inside = st.floats(float(kind.low), float(kind.high)).map(
            lambda value: str(int(value)) if kind.whole else f"{value:g}"
        )
        return st.one_of(inside, inside, st.sampled_from([f"{edge:g}" for edge in edges]), st.sampled_from(ODD))
    if isinstance(kind, click.Choice):
        return st.one_of(st.sampled_from([str(each) for each in kind.choices]), TEXT)
    return PATH if isinstance(kind, click.Path) else TEXT


# --- a study ----------------------------------------------------------------------------------------------------------


def studies() -> st.SearchStrategy[str]:
    """A study as TOML, its keys those that `Study` declares, its values of the declared types and of others."""
    return _model(Study).map(_toml)


def _model(model: type[BaseModel]) -> st.SearchStrategy[dict[str, Any]]:
    of = dict(fields(model))
    named = st.sets(st.sampled_from(sorted(of)), max_size=min(5, len(of)))
    return named.flatmap(lambda chosen: st.fixed_dictionaries({name: of[name] for name in sorted(chosen)}))


def fields(model: type[BaseModel]) -> list[tuple[str, st.SearchStrategy[Any]]]:
    """The keys that a part of a study declares, with values for each, meant and not."""
    return [(name, _of(each.annotation)) for name, each in model.model_fields.items()]


def _of(annotation: Any) -> st.SearchStrategy[Any]:
    wrong = st.one_of(TEXT, st.sampled_from([0, -1, True, 1e308, float("nan"), []]))
    return st.one_of(_typed(annotation), _typed(annotation), _typed(annotation), wrong)


def _typed(annotation: Any) -> st.SearchStrategy[Any]:
    origin, args = get_origin(annotation), get_args(annotation)
    if hasattr(annotation, "__metadata__"):
        return _typed(args[0])
    if origin in (Union, types.UnionType):
        return st.one_of([_typed(each) for each in args if each is not type(None)])
    if origin is Literal:
        return st.sampled_from(args)
    if origin in (list, tuple):
        return st.lists(st.deferred(lambda: _of(args[0])), max_size=3)
    if origin is dict:
        return st.dictionaries(TEXT, st.deferred(lambda: _of(args[1])), max_size=3)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return st.deferred(lambda: _model(annotation))
    plain: dict[Any, st.SearchStrategy[Any]] = {
        str: st.one_of(TEXT, PATH),
        float: st.one_of(st.floats(), st.sampled_from([0.0, 1.0, 5.0, 1e308, 1e-320, -1.0])),
        int: st.integers(-3, 300),
        bool: st.booleans(),
        datetime: st.sampled_from([datetime(2026, 5, 16, 18), datetime(1, 1, 1), datetime(9999, 12, 31, 23, 59)]),
        date: st.sampled_from([date(2026, 5, 16), date(1, 1, 1), date(9999, 12, 31)]),
        Path: PATH,
    }
    return plain.get(annotation, TEXT)


def _toml(given: dict[str, Any]) -> str:
    """As a file has it; what TOML cannot say (a lone surrogate, a mixture) is left out key by key."""
    text = ""
    for name, value in given.items():
        try:
            part = tomlkit.dumps({name: value})
            part.encode()
        except (ValueError, TypeError, AttributeError, UnicodeError, tomlkit.exceptions.TOMLKitError):
            continue
        text = part + text if not part.lstrip().startswith("[") else text + part
    return text


# --- tables -----------------------------------------------------------------------------------------------------------


def tables(header: tuple[str, ...]) -> st.SearchStrategy[str]:
    """A table with this header: its cells meant, odd, quoted and not, too many and too few; now and then another header."""
    cell = st.one_of(TEXT, TEXT, st.sampled_from(['"', '""', '"open', 'clo"sed', '"a,b"', "  "]))
    row = st.lists(cell, min_size=max(len(header) - 2, 1), max_size=len(header) + 1)
    heads = st.one_of(st.just(list(header)), st.just(list(header)), st.lists(TEXT, max_size=len(header)))
    ends, gaps = st.sampled_from(["\n", "\r\n", "\r"]), st.sampled_from([",", ";", "\t"])
    return st.tuples(heads, st.lists(row, max_size=8), gaps, ends).map(
        lambda parts: parts[3].join(parts[2].join(cells) for cells in [parts[0], *parts[1]])
    )


EXPORT = ("time", "callsign", "locator", "snr", "frequency", "power", "setup")
SCHEDULE = ("start", "end", "setup")
FIXES = ("callsign", "locator", "suggestion", "reason", "rows", "accept")
EVERYTHING: dict[str, Callable[[], st.SearchStrategy[str]]] = {
    "study.toml": studies,
    "spots.csv": lambda: tables(EXPORT),
    "schedule.csv": lambda: tables(SCHEDULE),
    "fixes.csv": lambda: tables(FIXES),
}
