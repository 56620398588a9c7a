"""A study file to start from: TOML with a comment at every key, filled with what is known."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from reach.study import Study

_EXAMPLES = """
# A setup is an antenna with its feedline and power. Uncomment and change; name them as you like.
# [setups.vertical]
# antenna = "quarter-wave vertical with elevated radials"
# power_w = 5.0                                   # at the radio, where it differs from the station's
# cable = { kind = "RG-58 class", length_m = 12 } # `reach budget --cables` lists the classes
# swr = 1.2                                       # at the antenna; or resistance_ohm and reactance_ohm
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
"""


def text(study: Study, *, beside: Path = Path(".")) -> str:
    """The study as TOML.

    study : what is known so far
    beside : the folder the file will lie in; paths of files are written relative to it
    Returns text that study.load reads back as the same station, files and options.
    """
    station, options = study.station, study.options
    lines = [
        "# A study for `reach run`. Times are UTC; paths are relative to this file.",
        _key("title", study.title),
        _key("about", study.about),
        _key("files", [_relative(name, study.folder, beside) for name in study.files]),
        _optional("schedule", study.schedule and _relative(study.schedule, study.folder, beside), "times.csv"),
        "",
        "[station]",
        _key("callsign", station.callsign),
        _key("locator", station.locator),
        _optional("power_w", station.power_w, 5.0),
        "",
        "[options]",
        _key("itu_region", options.itu_region),
        _key("four_character_locators", options.four_character_locators),
        _optional("day_first", options.day_first, True),
        _optional("decoding_limit_db", options.decoding_limit_db, -28.0),
        _optional("columns", options.columns, {"callsign": "Reporter"}),
    ]
    return "\n".join(lines) + "\n" + _EXAMPLES


def _key(name: str, value: Any) -> str:
    return f"{name} = {_toml(value)}"


def _optional(name: str, value: Any, example: Any) -> str:
    return f"# {_key(name, example)}" if value in (None, "", {}) else _key(name, value)


def _toml(value: Any) -> str:
    """A TOML value; its strings, numbers, booleans and lists are written as JSON writes them."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(k)} = {_toml(v)}" for k, v in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _relative(name: str, folder: Path, beside: Path) -> str:
    if name == "-" or Path(name).is_absolute():
        return name
    return Path(os.path.relpath(folder / name, beside)).as_posix()
