"""Suites made by others (SOURCES.md): CSV files with what a reader should find in them, and strings that cause trouble."""

from __future__ import annotations

import csv
import hashlib
import html.parser
import io
import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pandas as pd
import pytest

from reach import study as studies
from reach.base import text
from reach.draw import gallery, style
from reach.read import dialect, read
from reach.tell import page, tables
from reach.walk import Walk

HERE = Path(__file__).parent
SPECTRUM = sorted((HERE / "csv_spectrum").glob("*.csv"))
NAUGHTY: list[str] = json.loads((HERE / "naughty_strings.json").read_text(encoding="utf-8"))
HEADER = ("time", "callsign", "locator", "snr", "frequency", "setup")


def test_the_suites_are_as_their_sources_have_them():
    told = re.findall(
        r"^\| (\S+) \| ([0-9a-f]{64}) \|$", (HERE / "SOURCES.md").read_text(encoding="utf-8"), re.MULTILINE
    )
    assert len(told) == 2 * len(SPECTRUM) + 2 and len(SPECTRUM) == 12
    for name, digest in told:
        assert hashlib.sha256((HERE / name).read_bytes()).hexdigest() == digest, name


def expected(path: Path) -> list[dict[str, str]]:
    told = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    return told if isinstance(told, list) else [told]


@pytest.mark.parametrize("path", SPECTRUM, ids=lambda path: path.stem)
def test_cells_are_cut_as_the_suite_says(path):
    """Line ends within cells may be told by either of their two spellings."""
    header, *rows = [each.cells for each in dialect.records(path.read_text(encoding="utf-8"), ",")]
    found = [dict(zip(header, row, strict=True)) for row in rows]
    plain = [{name: value.replace("\r\n", "\n") for name, value in row.items()} for row in expected(path)]
    if path.stem == "location_coordinates":  # the suite's two files name different telephones
        assert [row.pop("Contact Phone Number") for row in found] == ["2095257564"]
        plain = [{name: value for name, value in row.items() if name in found[0]} for row in plain]
    assert found == plain


@pytest.mark.parametrize("path", SPECTRUM, ids=lambda path: path.stem)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_cells_arrive_in_the_table(path, end, tmp_path):
    """The suite's cells as the setups of an export."""
    cells = [value for row in expected(path) for value in row.values()]
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator=end)
    writer.writerow(HEADER)
    for minute, cell in enumerate(cells):
        writer.writerow([f"2026-05-16 18:{minute:02d}", "EI9QUC", "IO51es", "-20", "14.05", cell])
    (tmp_path / "spots.csv").write_text(lines.getvalue(), encoding="utf-8", newline="")
    raw = read(tmp_path / "spots.csv")
    assert len(raw) == len(cells)
    # A table holds what can be shown: a line end within a cell as such, and no blanks round it.
    held = [str(each) for each in raw["setup"].astype(object).fillna("")]
    assert [plain(each) for each in held] == [plain(each) for each in cells]


def plain(cell: str) -> str:
    return text.shown(cell.replace("\r\n", "\n")).strip()


@pytest.fixture(scope="module")
def naughty(tmp_path_factory: pytest.TempPathFactory) -> Walk:
    """An export in which each string stands once as a callsign, once as a locator and once as a setup."""
    folder = tmp_path_factory.mktemp("naughty")
    rows = [["2026-05-16 18:00", "EI9QUC", "IO51lv", "-20", "14.05", "plain"]] * 3
    for each in NAUGHTY:
        rows += [
            ["2026-05-16 18:02", each, "JO62qm", "-20", "14.05", "plain"],
            ["2026-05-16 18:04", "DL3QSA", each, "-21", "14.05", "plain"],
            ["2026-05-16 18:06", "F5QTD", "JN18du", "-22", "14.05", each],
        ]
    with (folder / "spots.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([HEADER, *rows])
    told = {
        "title": NAUGHTY[40],
        "files": [str(folder / "spots.csv")],
        "station": {"callsign": "EI4QTB", "locator": "IO51es"},
    }
    return Walk(studies.check({**told, "now": "2026-11-01T00:00:00Z"}))


def test_no_row_is_lost_or_joined_to_another(naughty):
    assert naughty.counts.read == 3 + 3 * len(NAUGHTY) == len(naughty.raw)


def test_tables_read_back_and_hold_no_formula(naughty, tmp_path):
    for name, table in (("spots", naughty.spots), ("problems", naughty.problems)):
        tables.write_csv(table, tmp_path / f"{name}.csv")
        back = pd.read_csv(tmp_path / f"{name}.csv", dtype=str, keep_default_na=False)
        assert len(back) == len(table), name
        held = [str(cell) for column in back.columns for cell in back[column]]
        assert not [cell for cell in held if cell.startswith(("=", "@")) or re.match(r"[+-][^\d.,\s-]", cell)], name


def test_the_page_has_no_element_of_theirs(naughty):
    """Its elements are those of the same page with harmless names."""

    class Elements(html.parser.HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.seen: set[tuple[str, str]] = set()

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            self.seen |= {(tag, name) for name, _ in attrs} | {(tag, "")}

    made = Elements()
    made.feed(page.html(naughty.findings))
    assert not [
        each for each in made.seen if each[0] in ("iframe", "object", "embed", "base") or each[1].startswith("on")
    ]
    assert not {("img", "src"), ("a", "xlink:href"), ("form", "action"), ("script", "src")} & made.seen


def test_pictures_are_drawn_and_are_well_formed(naughty):
    for picture in gallery.pictures(naughty.findings):
        if picture.name in ("timeline", "distance", "reach-curve"):
            with style.own_settings():
                drawn = style.svg(picture.build(), picture.alt_text)
            assert not list(ElementTree.fromstring(drawn).iter("{http://www.w3.org/2000/svg}script"))


def test_everything_that_is_said_can_be_shown(naughty):
    assert all(text.is_clean(line) for line in str(naughty).split("\n"))
