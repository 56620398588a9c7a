"""One number everywhere: what terminal, page, slides, pictures and summary.json say of one study is the same.

Each medium is read as a reader would, in its own typography, and every place where a number stands is read, not the
first. Two rules that had rounded one distance, or two functions that had counted one thing, are found here.
"""

from __future__ import annotations

import contextlib
import html
import io
import json
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pptx import Presentation

from reach.cli import run
from reach.draw import gallery
from reach.findings import Findings
from reach.tell import folder, page
from reach.tell.deck import editable, outline
from tests.conftest import STUDIES
from tests.factory import all_text

CANNOT_TELL = "cannot tell"
MEDIA = ("terminal", "page", "slides", "pictures")
BLANKS = "\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}"
# Of each number: where it stands in words. All places are read, and one at least must be there.
PLACES = {
    "reports": [r"[Hh]alf of (\d+) reports", r"(\d+) reports · \d+ receivers"],
    "median_km": [r"[Hh]alf (?:of (?:\d+|the|all) reports )?came from beyond (\d+) km(?! on)"],
    "p90_km": [r"(?:one in ten|a tenth) from beyond (\d+) km"],
    "farthest": [r"the farthest from (\S+) in", r"(\w+) in [A-R]{2}\d\d[a-x]{2}, [A-Z][\w ]+: \d+ \+/-"],
    "far_km": [r"(\d+) \+/- \d+ km"],
    "uncertainty_km": [r"\d+ \+/- (\d+) km"],
    "countries": [r"heard in (\d+) countries", r"Heard in (\d+) countries"],
    "squares": [r"countries and (\d+) squares", r"receivers, (\d+) squares", r"(\d+) squares heard"],
    "interval_km": [r"\(95 % interval (\d+ to \d+) km\)"],
    "hours": [r"Reports were most frequent between (\d\d):00", r"Reports came in (\d+) hours of the day"],
}
# The interval of the comparison: in words, on the slide with its parts, on the page.
COMPARED = [
    r"vertical and wire: (\d+\.\d) dB in favour of (\w+) to (\d+\.\d) dB in favour of (\w+)",
    r"all together \| [+-]?\d+\.\d dB \| ([+-]?\d+\.\d) to ([+-]?\d+\.\d)",
    r"vertical less wire [+-]?\d+\.\d dB \(([+-]?\d+\.\d) to ([+-]?\d+\.\d) dB\)",
]


class Disagreement(AssertionError):
    """A medium does not say a number, or says two."""


@dataclass(frozen=True)
class Told:
    """What one medium says. Distances as far as they are shown; hours : the fullest one where it stands apart, else how many;
    compared : (low, high) [dB], CANNOT_TELL or None."""

    reports: str
    median_km: str
    p90_km: str
    farthest: str
    far_km: str
    uncertainty_km: str
    countries: str
    squares: str
    interval_km: str
    hours: str
    compared: tuple[float, float] | str | None


@pytest.fixture(scope="module")
def shown(walks, drawn) -> Callable[[str], dict[str, str]]:
    """What each medium shows of a study, as text."""

    @cache
    def of(name: str) -> dict[str, str]:
        findings = walks[name].findings
        pictures = [each.name for each in gallery.pictures(findings) if counted(each.name)]
        return {
            "terminal": terminal(findings),
            "page": static(page.html(findings)),
            "slides": slides(findings),
            "pictures": "\n".join(said(all_text(drawn(name, each))) for each in pictures),
        }

    return of


@pytest.mark.parametrize("name", STUDIES)
def test_five_outputs_say_one_number(walks, shown, name, tmp_path):
    truth = from_files(walks[name].findings, tmp_path)
    assert (truth.compared is None) == (name == "messy") and (truth.compared == CANNOT_TELL) == (name == "weekend")
    assert tuple(shown(name)) == MEDIA
    # A comparison that cannot tell has no picture.
    no_picture = replace(truth, compared=None) if truth.compared == CANNOT_TELL else truth
    for medium, text in shown(name).items():
        assert read(text, medium) == (no_picture if medium == "pictures" else truth), medium


@pytest.mark.parametrize("medium", MEDIA)
@pytest.mark.parametrize("field", [*PLACES, "compared"])
def test_another_number_in_any_place_is_found(shown, medium, field):
    """Each place is really read: a digit changed in one of them, and the medium no longer agrees."""
    text = shown("evening")[medium]
    right = read(text, medium)
    places = [
        match.span(group)
        for pattern in (COMPARED if field == "compared" else PLACES[field])
        for match in re.finditer(pattern, text)
        for group in range(1, match.re.groups + 1)
        if match[group][-1].isdigit() or field == "farthest"
    ]
    assert places
    for start, end in places:
        changed = f"{text[: end - 1]}{'7' if text[end - 1] != '7' else '3'}{text[end:]}"
        try:
            assert read(changed, medium) != right, text[start - 40 : end + 40]
        except Disagreement:
            continue  # it says two things now


@pytest.mark.parametrize("within_km", [8.37, 8.0, 0.4])
def test_an_uncertainty_is_rounded_by_one_rule(walks, within_km, tmp_path):
    """8.37 km was 8 km on pictures and 9 km on page and terminal: an uncertainty is rounded up, and never to nothing."""
    found = walks["evening"].findings
    far = replace(found.reach.headline.farthest, uncertainty_km=within_km)
    overall = replace(found.reach.headline, farthest=far)
    reach = replace(found.reach, corroborated=replace(found.reach.corroborated, overall=overall))
    changed = replace(found, reach=reach)
    (station,) = (each for each in gallery.pictures(changed) if each.name == "map-station")
    texts = terminal(changed), static(page.html(changed)), slides(changed), said(all_text(station.build()))
    shown = {each for text in texts for each in re.findall(r"\d+ \+/- (\d+) km", text)}
    assert shown == {str(int(np.ceil(within_km)))} == {from_files(changed, tmp_path).uncertainty_km}


# --- what each medium says --------------------------------------------------------------------------------------------


def from_files(findings: Findings, to: Path) -> Told:
    """What summary.json and comparison.json hold, rounded here as people are shown it."""
    folder.write_tables(findings, to)
    summary = json.loads((to / "summary.json").read_text(encoding="utf-8"))
    found, busiest = summary["corroborated"]["overall"], summary["claims"]["fullest-hour"]
    far, by_hour = found["farthest"], found["by_hour"]
    return Told(
        reports=str(found["spots"]),
        median_km=_beyond(found["median_km"]),
        p90_km=_beyond(found["p90_km"]),
        farthest=far["rx_call"],
        far_km=f"{far['distance_km']:.0f}",
        uncertainty_km=f"{np.ceil(far['uncertainty_km']):.0f}",
        countries=str(found["countries"]),
        squares=str(found["squares"]),
        interval_km=" to ".join(map(_beyond, found["median_km_interval"])),
        hours=f"{busiest['winner']:02d}" if busiest["reason"] == "apart" else str(sum(count > 0 for count in by_hour)),
        compared=_compared_file(to / "comparison.json"),
    )


def _beyond(value: float) -> str:
    """The lower 10 km from 1000 km on, the lower kilometre below."""
    return str(int(value) // 10 * 10 if value >= 1000 else int(value))


def _compared_file(path: Path) -> tuple[float, float] | str | None:
    if not path.exists():
        return None
    found = json.loads(path.read_text(encoding="utf-8"))
    if found["low_db"] is None:
        return CANNOT_TELL
    return round(found["low_db"], 1), round(found["high_db"], 1)


def terminal(findings: Findings) -> str:
    with contextlib.redirect_stdout(io.StringIO()) as out:
        run.tell(findings)
    return said(out.getvalue())


def static(text: str) -> str:
    """The page as it reads without JavaScript."""
    plain = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", text, flags=re.DOTALL)
    return said(html.unescape(re.sub(r"<[^>]+>", " ", plain)))


def slides(findings: Findings) -> str:
    """All text of the presentation, tables too."""
    deck = Presentation(io.BytesIO(editable.pptx(outline.deck(findings))))
    shapes = [shape for slide in deck.slides for shape in slide.shapes]
    texts = [shape.text_frame.text for shape in shapes if shape.has_text_frame]
    cells = [
        " | ".join(cell.text for cell in row.cells) for shape in shapes if shape.has_table for row in shape.table.rows
    ]
    return said("\n".join([*texts, *cells]))


def counted(picture: str) -> bool:
    """Pictures of all accepted rows, doubtful ones too, rightly say another number of reports."""
    return picture not in ("timeline", "suspects")


def said(text: str) -> str:
    """Numbers without their typography: no gaps or commas between digits, plain signs, one blank between words."""
    for blank in BLANKS:
        text = text.replace(blank, " ")
    text = text.replace("\N{MINUS SIGN}", "-").replace("±", "+/-")
    text = re.sub(r"(?<=\d)[, ](?=\d{3}(?!\d))", "", text)
    return re.sub(r"\s+", " ", text)


def read(text: str, medium: str) -> Told:
    """The numbers of one medium. Disagreement where one is not said, or not the same in all its places."""
    found = {}
    for name, patterns in PLACES.items():
        values = {value for pattern in patterns for value in re.findall(pattern, text)}
        if len(values) != 1:
            raise Disagreement(f"{medium} says {name}: {sorted(values)}")
        found[name] = values.pop()
    return Told(**found, compared=_compared(text, medium))


def _compared(text: str, medium: str) -> tuple[float, float] | str | None:
    """The interval of vertical minus wire, or the refusal."""
    in_words, *in_tables = COMPARED
    spans = {(_sign(*each[:2]), _sign(*each[2:])) for each in re.findall(in_words, text)}
    spans |= {(float(low), float(high)) for pattern in in_tables for low, high in re.findall(pattern, text)}
    refused = re.search(r"[Cc]annot tell(?:: vertical| vertical from wire)", text) is not None
    if len(spans) + refused > 1:
        raise Disagreement(f"{medium} says of the setups: {sorted(spans)}{', and that it cannot tell' * refused}")
    return spans.pop() if spans else CANNOT_TELL if refused else None


def _sign(size: str, setup: str) -> float:
    return float(size) if setup == "vertical" else -float(size)
