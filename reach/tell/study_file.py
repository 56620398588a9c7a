"""Study files as they are written: a new one with a comment at every key, a changed one with its comments kept."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import tomlkit
from tomlkit.container import OutOfOrderTableProxy
from tomlkit.items import InlineTable, Table

from reach import study as studies
from reach.study import Cable, Comparison, Entry, Match, Reading, Season, Session, Setup, Study

# What a new study starts as. A commented key is opened where its value is known.
_NEW: Final = """\
# A study for `reach run`. Times are UTC; paths are relative to this file.
title = ""
about = ""
files = []
# now = 2026-11-01T00:00:00Z   # what counts as now; the clock's hour where left out
# language = "en"              # of page, pictures, slides and film: en, de, es, fr, it, ja; the system's where left out
# local_time = "Europe/Berlin" # shown beside UTC in page, pictures, slides and film; only UTC where left out
# fixes = "fixes.csv"          # corrections that you approved, from `reach vet --write-fixes`; --fixes goes before it
# schedule = "times.csv"
# schedule_zone = "+01:00"     # of its times; UTC where left out
# schedule_shift_min = -10     # to be added to its times, where a clock was wrong
# schedule_confirmed = true    # it is right, whatever the reports say

[station]
callsign = ""
locator = ""
# power_w = 5.0

[options]
# itu_region = 1               # that of the locator where left out
four_character_locators = false
# day_first = true
# decoding_limit_db = -28.0
# columns = { callsign = "Reporter" }

# How single files are read, where they do not tell: written by `reach run ... --write-study`.
# [[readings]]
# file = "log-*.csv"
# columns = { callsign = "Reporter", snr = "Rpt" }
# day_first = true
# zone = "+01:00"

# A setup is an antenna with its feedline and power. Uncomment and change; name them as you like.
# [setups.vertical]
# antenna = "quarter-wave vertical with elevated radials"
# power_w = 5.0                                   # at the radio, where it differs from the station's
# cable = { kind = "RG-58 class", length_m = 12 } # `reach budget --cables` lists the classes
# swr = 1.2                                       # at the antenna; or resistance_ohm and reactance_ohm
# bands = { 40m = { swr = 1.8 } }                 # where it was measured on single bands
# [setups.wire]
# antenna = "end-fed half-wave wire"

# A session is a stretch of time on one setup: a window in UTC, or files of its own.
# [[sessions]]
# setup = "vertical"
# start = 2026-05-16T18:00:00Z
# end = 2026-05-16T18:10:00Z

# Which two setups to compare.
# [compare]
# a = "vertical"
# b = "wire"

# The level over weeks, against stations near by whose rows are in the same files (or in files of their own).
# [season]
# controls = []                # those that serve best where none is named
# What was done to the station, and when: marked on the season's curve, and sized.
# [[log]]
# date = 2026-05-16
# done = "new mast"
# swr = 1.3                    # as read afterwards
"""
_OPTIONAL: Final = {
    "language": lambda study: study.language,
    "local_time": lambda study: study.local_time,
    "fixes": lambda study: study.fixes,
    "schedule": lambda study: study.schedule,
    "schedule_zone": lambda study: study.schedule_zone,
    "schedule_shift_min": lambda study: study.schedule_shift_min or None,
    "schedule_confirmed": lambda study: study.schedule_confirmed or None,
    "power_w": lambda study: study.station.power_w,
    "day_first": lambda study: study.options.day_first,
    "decoding_limit_db": lambda study: study.options.decoding_limit_db,
    "columns": lambda study: study.options.columns,
}
_INLINE: Final = {"cable", "columns", "bands"}  # short tables, which read better on one line
_Path = tuple[str, ...]


def rewrite(path: Path, study: Study) -> None:
    """A study that was loaded from there, written again: what was changed of it, comments and all else as they were."""
    from reach.tell import files

    files.write(path, text(study, beside=path.parent), replace=True)


def text(study: Study, *, beside: Path = Path(".")) -> str:
    """The study as TOML.

    study : as loaded and perhaps changed, or made of what is known so far
    beside : the folder the file will lie in; paths of files are written relative to it
    Returns text that study.load reads back as the same study. Of a study that was loaded it is its own file, comments,
    order and layout included, in which only those values differ that were changed since.
    """
    asked = _moved(study, beside)
    if study.source:
        return _changed(study.source, studies.check(tomllib.loads(study.source)).model_dump(), asked)
    new = _NEW
    for key, value in _OPTIONAL.items():
        if value(study) not in (None, "", {}):
            new = re.sub(f"^# (?={key} = )", "", new, count=1, flags=re.MULTILINE)
    # Opened keys hold an example, so the text is compared with what it says itself.
    return _changed(new, studies.check(tomllib.loads(new)).model_dump(), asked)


def _moved(study: Study, beside: Path) -> dict[str, Any]:
    """The values of the study, its paths as they read from another folder."""
    given = study.model_dump()
    if os.path.abspath(study.folder) == os.path.abspath(beside):
        return given  # untouched, so that './a.csv' stays as it was written
    own = [given, *given["sessions"]]
    for part in own:
        part["files"] = [_relative(name, study.folder, beside) for name in part["files"]]
    for key in ("schedule", "fixes"):
        if given[key]:
            given[key] = _relative(given[key], study.folder, beside)
    for part, key in ((given["season"] or {}, "controls"), (given["compare"] or {}, "control")):
        names = part.get(key) or []
        several = [names] if isinstance(names, str) else names
        moved = [_relative(each, study.folder, beside) if (study.folder / each).exists() else each for each in several]
        if moved:  # what is there is a file, what is not a callsign
            part[key] = moved[0] if isinstance(names, str) else moved
    return given


def _relative(name: str, folder: Path, beside: Path) -> str:
    if name == "-" or Path(name).is_absolute():
        return name
    try:
        return Path(os.path.relpath(folder / name, beside)).as_posix()
    except ValueError:  # another drive, to which no relative path leads
        return Path(os.path.abspath(folder / name)).as_posix()


def _changed(written: str, old: dict[str, Any], new: dict[str, Any]) -> str:
    """The text with the values of `new` where they differ from those of `old`, which it holds."""
    document = tomlkit.parse(written)
    added: list[tuple[_Path, str, Any]] = []
    gone: list[_Path] = []
    _change(document, old, new, (), added, gone)
    written = tomlkit.dumps(document)
    for place in gone:
        written = _without(written, place)
    for place, key, value in added:
        written = _added(written, place, key, value)
    return written


def _change(
    table: Any,
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    place: _Path | None,
    added: list[tuple[_Path, str, Any]],
    gone: list[_Path],
) -> None:
    """Change a table in place; what goes, and keys that it lacks, are noted in `gone` and `added` where their place in the text
    matters.

    place : the table's names from the top; None where it has none (an inline table, an element of a list, a new one)
    """
    for key in [name for name in old if name not in new and name in table]:
        if place is not None and isinstance(table[key], Table | OutOfOrderTableProxy):
            gone.append((*place, key))
        else:
            table.pop(key, None)
    for key, value in new.items():
        before = old.get(key)
        if value == before and (key in old or value is None):
            continue
        if isinstance(value, Mapping):
            if key in table:
                deeper = None if place is None or isinstance(table[key], InlineTable) else (*place, key)
                _change(table[key], before or {}, value, deeper, added, gone)
                continue
            inline = key in _INLINE or isinstance(table, InlineTable)
            new_table = tomlkit.inline_table() if inline else tomlkit.table()
            _change(new_table, _defaults(value), value, None, [], [])
            if inline and place is not None:
                added.append((place, key, new_table))
            else:
                table[key] = new_table
        elif _is_tables(value) or _is_tables(before):
            _change_list(table, key, before or [], value)
        elif value is None:
            table.pop(key, None)
        elif key in table:
            _set(table, key, value)
        elif place is not None:
            added.append((place, key, value))
        else:
            table[key] = value


def _defaults(value: Mapping[str, Any]) -> dict[str, Any]:
    """What a setup, a cable, a session or a comparison says where it says nothing; so that much need not be written."""
    for model in (Setup, Match, Cable, Session, Comparison, Reading, Season, Entry):
        if value.keys() == model.model_fields.keys():
            fields = model.model_fields.items()
            return {
                name: each.get_default(call_default_factory=True, validated_data={})
                for name, each in fields
                if not each.is_required()
            }
    return {}


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(each, Mapping) for each in value)


def _change_list(table: Any, key: str, old: list[Any], new: list[Any]) -> None:
    """Change a list of tables: one by one where it is as long as it was, else from anew."""
    if key in table and len(old) == len(new):
        for element, before, value in zip(table[key], old, new, strict=True):
            _change(element, before, value, None, [], [])
        return
    table.pop(key, None)
    if new:
        rows = tomlkit.aot()
        for value in new:
            row = tomlkit.table()
            _change(row, _defaults(value), value, None, [], [])
            rows.append(row)
        table[key] = rows


def _set(table: Any, key: str, value: Any) -> None:
    """A new value in the old one's place; a list as long as it was keeps its lines and comments."""
    if isinstance(value, list) and len(table[key]) == len(value):
        for k, each in enumerate(value):
            if table[key][k] != each:
                table[key][k] = each
    else:
        table[key] = value


def _added(written: str, place: _Path, key: str, value: Any) -> str:
    """The text with a key more in one of its tables, right behind the keys that the table has.

    Appended, it would stand behind all comments up to the next table, and those often hold that table's example: once
    opened it would swallow the key. So the shortest beginning of the text that has the whole table is looked for.
    """
    line = tomlkit.dumps({key: value})
    expected = tomllib.loads(written)
    wanted = _plain_keys(expected, place)
    _at(expected, place)[key] = tomllib.loads(line)[key]
    lines = re.findall(r"[^\n]*\n|[^\n]+", written)  # splitlines would split at more than TOML does
    for n in range(len(lines) + 1):
        if n and (not lines[n - 1].strip() or lines[n - 1].startswith("#")):
            continue
        try:
            if _plain_keys(tomllib.loads("".join(lines[:n])), place) != wanted:
                continue
        except (tomllib.TOMLDecodeError, KeyError):  # within a value of several lines, or before the table
            continue
        ended = "" if n == 0 or lines[n - 1].endswith("\n") else "\n"
        found = "".join([*lines[:n], ended, line, *lines[n:]])
        try:
            if tomllib.loads(found) == expected:
                return found
        except tomllib.TOMLDecodeError:
            pass
        break  # a table written inline or in dotted keys has no line of its own to follow
    document = tomlkit.parse(written)
    _at(document, place)[key] = value
    return tomlkit.dumps(document)


def _without(written: str, place: _Path) -> str:
    """The text without a table and those within it. Comments that follow its last value stay: they speak of what comes next."""
    expected = tomllib.loads(written)
    _at(expected, place[:-1]).pop(place[-1])
    kept: list[str] = []
    block: list[str] = []  # of the table that is being left out: what may have to stay
    inside = False
    for line in re.findall(r"[^\n]*\n|[^\n]+", written):
        if (named := _header(line)) is not None:
            kept, block = [*kept, *block], []
            inside = named[: len(place)] == place
        if not inside:
            kept.append(line)
        elif line.strip() and not line.lstrip().startswith("#"):
            block = []
        else:
            block.append(line)
    found = "".join([*kept, *block])
    if _says(found, expected):
        return found
    document = tomlkit.parse(written)  # written inline or in dotted keys, so that no lines are its own
    _at(document, place[:-1]).pop(place[-1])
    return tomlkit.dumps(document)


def _header(line: str) -> _Path | None:
    """The names of the table that begins with this line; None where none does."""
    if not line.lstrip().startswith("["):
        return None
    try:
        found, names = tomllib.loads(line), []
    except tomllib.TOMLDecodeError:
        return None
    while isinstance(found, dict) and len(found) == 1:
        ((name, found),) = found.items()
        names.append(name)
    return tuple(names)


def _says(written: str, expected: dict[str, Any]) -> bool:
    """Whether a text holds these values; a table that became empty may be left out."""
    try:
        found = tomllib.loads(written)
    except tomllib.TOMLDecodeError:
        return False
    return {key: value for key, value in found.items() if value != {}} == {
        key: value for key, value in expected.items() if value != {}
    }


def renamed(written: str, old: str, new: str) -> str:
    """A study's text in which a setup has another name, wherever the text names it.

    old : a setup of the text; new : a name that none of them has
    """
    expected = tomllib.loads(written)
    expected["setups"] = {new if name == old else name: each for name, each in expected["setups"].items()}
    lines = [_header_renamed(line, old, new) for line in re.findall(r"[^\n]*\n|[^\n]+", written)]
    found = "".join(lines)
    if not _says(found, expected):  # inline, or in dotted keys
        document = tomlkit.parse(written)
        setups: Any = document["setups"]
        setups[new] = setups.pop(old)
        found = tomlkit.dumps(document)
    document = tomlkit.parse(found)
    given: dict[str, Any] = document
    for session in given.get("sessions", []):
        if session.get("setup") == old:
            session["setup"] = new
    compare = given.get("compare", {})
    for key in ("a", "b"):
        if compare.get(key) == old:
            compare[key] = new
    for k, name in enumerate(compare.get("setups", [])):
        if name == old:
            compare["setups"][k] = new
    return tomlkit.dumps(document)


def _header_renamed(line: str, old: str, new: str) -> str:
    named = _header(line)
    if named is None or named[:2] != ("setups", old):
        return line
    spelt = "|".join(map(re.escape, {old, tomlkit.key(old).as_string(), f'"{old}"', f"'{old}'"}))
    return re.sub(
        rf"""^(\s*\[\s*["']?setups["']?\s*\.\s*)(?:{spelt})(?=\s*[.\]])""",
        lambda match: match[1] + tomlkit.key(new).as_string(),
        line,
        count=1,
    )


def _plain_keys(given: dict[str, Any], place: _Path) -> set[str]:
    """The keys of a table that stand on lines of their own below its name."""
    found = _at(given, place).items()
    return {key for key, value in found if not isinstance(value, dict) and not _is_tables(value)}


def _at(given: Any, place: _Path) -> Any:
    for name in place:
        given = given[name]
    return given
