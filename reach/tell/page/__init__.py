"""The page: one HTML file that carries all it needs, to open, explore and keep.

Text from the user's files reaches the page in two ways only: through the frame, which escapes it (Jinja2), and as JSON
in a block that is never run, with `<` written as \\u003c; our script puts it into the page as text. A content-security
policy lets nothing run but the script and the style that the page was written with, by their SHA-256, and lets nothing
be fetched at all.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from reach import data
from reach.base import locator as locators
from reach.base import tongue, words
from reach.base.tongue import Phrase
from reach.draw import captions
from reach.findings import Findings
from reach.measure import frame
from reach.spots import SECTOR_DEG, SUSPECT
from reach.tell.page import calendar, columns, land, looks, season, sections, versus
from reach.tell.sentences import local_time, notes
from reach.tell.sentences import reach as sentences
from reach.tell.sentences.direction import HEARD, ends

if TYPE_CHECKING:
    import pandas as pd

# In this order: each may use what stands before it.
SCRIPTS: Final = (
    "dom", "say", "tip", "data", "selection", "count", "sun", "theme", "sideways", "tables", "range", "chart", "histogram", "clockface",
    "rose", "play", "atlas", "thumbnails", "filters", "numbers", "viewer", "versus", "main",
)  # fmt: skip


def html(findings: Findings, *, other: str = "") -> str:
    """The page about a walk, self-contained.

    findings : Findings
    other : address of the page about the other direction, where there is one
    Returns the text of an HTML file, in the study's language, the same for the same findings.
    """
    with tongue.speaking(findings.study.spoken):
        return _html(findings, other)


def _html(findings: Findings, other: str) -> str:
    over_time = calendar.section(findings)
    css = looks.css() + "\n" + _part("page.css")
    if over_time is not None:
        css += calendar.css() + "\n" + _part("calendar.css")
    script = _script()
    way, sound = ends(findings), sections.sound(findings)
    return _frame().render(
        policy=policy(script, css),
        css=css,
        script=script,
        payload=embed(_payload(findings, sound)),
        language=tongue.spoken().language,
        messages=_messages(),
        title=sentences.title(findings, words.PRINT),
        way=way,
        heard=way is HEARD,
        left_out=sentences.left_out(findings, words.PRINT),
        law=notes.law(findings.counts, words.PRINT),
        made_up=sentences.made_up(findings),
        other=other,
        eyebrow=findings.study.title or words.text("Reception reports"),
        headline=sentences.headline(findings, words.PRINT),
        circumstances=sentences.circumstances(findings, words.PRINT),
        study=findings.study,
        answer=sentences.answer(findings, words.PRINT),
        better=sentences.better(findings, words.PRINT),
        versus=versus.section(findings),
        season=season.section(findings),
        calendar=over_time,
        several=versus.several(findings),
        conditions=sections.conditions(findings, sound),
        quality=sections.quality(findings),
        suspects=sections.suspects(findings),
        station=sections.station(findings),
        provenance=sections.provenance(findings),
        version=sections.version(),
        local=local_time.whose(findings.local_time) if findings.local_time is not None else "",
    )


def policy(script: str, css: str) -> str:
    """The content-security policy that lets exactly this script and this style be used, and nothing be fetched."""
    return (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(css)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def embed(values: Any) -> str:
    """Values as JSON that can stand in a page: no `<`, `>` or `&`, and no line ends that only JSON allows."""
    text = json.dumps(values, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def _payload(findings: Findings, sound: pd.DataFrame) -> dict[str, Any]:
    call, locator = captions.station(findings)
    encoded = columns.encode(findings.spots, findings.setups)
    trusted = findings.receivers[(findings.receivers["trust"] != SUSPECT).to_numpy()]
    return {
        **encoded,
        "sector_deg": SECTOR_DEG,
        "opens_km": frame.opens_km(trusted["distance_km"], trusted["reports"]),
        "steps": {"position": columns.POSITION_STEPS, "bearing": columns.BEARING_STEPS},
        "station": {"call": call, **_position(locator)},
        "stations": [_position(name) for name in encoded["places"]["stations"]],
        "land": land.encode(),
        "looks": looks.for_canvas(),
        "tables": sections.tables(findings, sound),
        "suspects": sections.suspect_places(findings),
        "versus": versus.drawn(findings),
        "words": _words(findings),
        **_local(findings),
    }


def _local(findings: Findings) -> dict[str, Any]:
    """The clocks that the script shows beside UTC; nothing where none are asked for."""
    local = findings.local_time
    if local is None:
        return {}
    changes = [[int(each.when_utc.timestamp() * 1000), each.offset_min] for each in local.changes]
    named = local_time.axis(words.text("Hour of the day, UTC"), local)
    offsets = [[each, local_time.offset(each)] for each in local.offsets_min]
    return {
        "local": {"zone": local.zone, "named": named, "first": local.first_min, "changes": changes, "offsets": offsets}
    }


def _words(findings: Findings) -> dict[str, Any]:
    """What the script calls things: the far end, what an empty sector may mean, the better setup."""
    way = ends(findings)
    said = {"far": way.far, "fars": way.far_many, "nobody": way.nobody, "better": way.better, "where": way.where}
    return {"heard": way is HEARD, "file": f"{way.far}s"} | {name: words.text(phrase) for name, phrase in said.items()}


# What the script says besides the messages that stand in it: names of columns and of trust.
_SAID_TOO: Final = (
    Phrase("corroborated"), Phrase("unconfirmed"), Phrase("suspect"), Phrase("locator"), Phrase("distance km"), Phrase("pairs"),
    Phrase("weight"), Phrase("difference dB"), Phrase("low dB"), Phrase("high dB"), Phrase("from UTC"), Phrase("to UTC"),
    Phrase("setup"), Phrase("reports"),
)  # fmt: skip
SCRIPT_TEXT: Final = re.compile(r'\btext\(\s*"((?:[^"\\]|\\.)*)"')  # a message in the script
SCRIPT_THINGS: Final = re.compile(r'\bthings\([^"\n]*?, "([^"]*)"(?:, "([^"]*)")?')


def script_messages() -> tuple[list[str], list[tuple[str, str]]]:
    """The messages that stand in the script, and those with a number as (one, many)."""
    script = "\n".join(_part(f"js/{name}.js") for name in SCRIPTS)
    plain = [*SCRIPT_TEXT.findall(script), *words.COMPASS, *_SAID_TOO]
    counted = [(f"{{n}} {one}", f"{{n}} {many or one + 's'}") for one, many in SCRIPT_THINGS.findall(script)]
    return list(dict.fromkeys(plain)), list(dict.fromkeys(counted))


def _messages() -> str:
    """What the script says in another language than English, as JSON; empty for English."""
    spoken = tongue.spoken()
    if spoken.is_source:
        return ""
    plain, counted = script_messages()
    said: dict[str, Any] = {message: spoken.catalogue.gettext(message) for message in plain}
    said |= {one: [spoken.counted(one, many, number) for number in (1, 2)] for one, many in counted}
    return embed({"language": spoken.language, "decimal": spoken.decimal, "messages": said})


def _position(locator: str) -> dict[str, Any]:
    if not locator:
        return {"locator": "", "lon": None, "lat": None}
    lon, lat = locators.centre([locator])
    return {"locator": locator, "lon": float(lon[0]), "lat": float(lat[0])}


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")


def _part(name: str) -> str:
    return files(__name__).joinpath(name).read_text(encoding="utf-8")


def lean(source: str) -> str:
    """A script without its comments and indentation: a tenth of the page that nobody reads there.

    source : lines in which no string runs over the end of a line
    """
    source = re.sub(r"^[ \t]*/\*\*.*?\*/[ \t]*$", "", source, flags=re.DOTALL | re.MULTILINE)
    lines = (line.strip() for line in source.splitlines())
    return "\n".join(line for line in lines if line and not line.startswith("//"))


@cache
def _script() -> str:
    """D3, then our modules in one function, so that nothing of ours is visible outside."""
    ours = "\n".join(lean(_part(f"js/{name}.js")) for name in SCRIPTS)
    return f'{data.read_text("d3.min.js")}\n(() => {{\n"use strict";\n{ours}\n}})();\n'


def _said(message: str, /, **values: Any) -> Any:
    """A message as the frame takes it in: itself as HTML, its values escaped."""
    from markupsafe import Markup, escape

    kept = {name: value if isinstance(value, Phrase) else escape(value) for name, value in values.items()}
    return Markup(words.text(message, **kept))


@cache
def _frame() -> Any:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("reach.tell", "page"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, finalize=lambda value: words.text(value) if isinstance(value, Phrase) else value,
    )  # fmt: skip
    environment.globals["t"] = _said
    return environment.get_template("frame.html.j2")
