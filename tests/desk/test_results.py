"""Results: report, slides, handout and film as the command line makes them; what changed; all of it as one archive."""

from __future__ import annotations

import io
import re
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reach.desk import changes
from tests.desk.conftest import Served, end, enter, evening, sample, start


def settled(served: Served, at: str) -> str:
    """The screen, once nothing is being made."""
    for _ in range(1500):
        page = served.get(f"{at}/results").text
        if "/cancel" not in page:
            return page
        time.sleep(0.2)
    raise AssertionError("still at work")


Made = tuple[Served, str, Path]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """A study with its report, slides and film."""
    served = enter(start(tmp_path_factory.mktemp("results") / "Reach"))
    try:
        at, study = evening(served)
        for what in ("run", "slides", "film"):
            assert served.post(f"{at}/run", what=what).headers["location"] == f"{at}/results"
        page = settled(served, at)
        assert 'role="alert">' not in page.replace('role="alert" hidden>', ""), page
        yield served, at, study.parent
    finally:
        end(served)


def files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_slides_handout_and_film_are_those_of_the_command_line(made: Made, tmp_path: Path) -> None:
    _, _, folder = made
    for asked in (("deck", "study.toml", "--out", str(tmp_path / "evening-slides")),
                  ("motion", "study.toml", "--out", str(tmp_path / "evening.mp4"))):  # fmt: skip
        done = subprocess.run([sys.executable, "-m", "reach", *asked], cwd=folder, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
    outputs = folder / "outputs"
    assert files(outputs / "evening-slides") == files(tmp_path / "evening-slides")
    assert (outputs / "evening.mp4").read_bytes() == (tmp_path / "evening.mp4").read_bytes()


def test_each_can_be_had_and_all_of_it_as_one(made: Made) -> None:
    served, at, folder = made
    page = settled(served, at)
    names = ["evening-slides/deck.pptx", "evening-slides/deck.pdf", "evening-slides/handout.pdf", "evening.mp4"]
    for name in names:
        assert f'href="{at}/beside/{name}?download"' in page
        answer = served.get(f"{at}/beside/{name}?download")
        assert answer.content == (folder / "outputs" / name).read_bytes()
        assert answer.headers["content-security-policy"].startswith("sandbox")
    with zipfile.ZipFile(io.BytesIO(served.get(f"{at}/zip/evening").content)) as archive:
        packed = {name: archive.read(name) for name in archive.namelist()}
    report = {f"evening/{name}": content for name, content in files(folder / "outputs" / "evening").items()}
    assert packed == {**report, **{name: (folder / "outputs" / name).read_bytes() for name in names}}
    for listed in ("Tables", "For map programs", "Pictures"):
        assert re.search(rf"<summary>{listed} \(\d+\)</summary>", page)


@pytest.mark.parametrize("name", ["../study.toml", "evening-slides/../evening/spots.csv", "..%2fstudy.toml", "evening/spots.csv",
                                  "evening-slides/manifest.json", ""])  # fmt: skip
def test_nothing_else_is_beside(made: Made, name: str) -> None:
    served, at, _ = made
    assert served.get(f"{at}/beside/{name}").status == 404


def test_a_link_beside_is_not_followed(made: Made, tmp_path: Path) -> None:
    served, at, folder = made
    secret = tmp_path / "secret.txt"
    secret.write_text("secret")
    for link in (folder / "outputs" / "evening.webp", folder / "outputs" / "evening-slides" / "notes.txt"):
        link.symlink_to(secret)
        try:
            name = link.relative_to(folder / "outputs").as_posix()
            assert name not in settled(served, at)
            assert served.get(f"{at}/beside/{name}").status == 404
        finally:
            link.unlink()


def test_of_a_film_without_an_encoder_it_says_what_plays_it(made: Made) -> None:
    served, at, folder = made
    note = "a picture that moves"
    assert note not in settled(served, at)
    film = folder / "outputs" / "evening.webp"
    film.write_bytes(b"RIFF")
    try:
        assert note in settled(served, at)
    finally:
        film.unlink()


def test_what_somebody_changed_is_left_alone(made: Made) -> None:
    served, at, folder = made
    for what, name in (("film", "evening.mp4"), ("slides", "evening-slides/deck.pptx"), ("run", "evening/report.html")):
        path = folder / "outputs" / name
        before = path.read_bytes()
        path.write_bytes(b"an evening's work")
        try:
            served.post(f"{at}/run", what=what)
            assert "may hold your work, so that nothing is written" in settled(served, at)
            assert path.read_bytes() == b"an evening's work"
        finally:
            path.write_bytes(before)
    assert served.post(f"{at}/run", what="coffee").status == 422


def test_it_says_what_is_old_and_what_changed(made: Made) -> None:
    served, at, _ = made
    assert "have changed since" not in settled(served, at) and "since the run before" not in settled(served, at)
    served.put(f"{at}/files/weekend.csv", sample("weekend.csv"))
    page = settled(served, at)
    assert "Files, settings or decisions have changed since this report was made." in page
    assert page.count("They were made before files, settings or decisions changed.") == 2
    served.post(f"{at}/run", what="run")
    page = settled(served, at)
    assert "What changed since the run before" in page and "3,118 rows read (1,580 before)" in page
    assert "have changed since this report" not in page
    served.post(f"{at}/run", what="run")
    assert changes.SAME in settled(served, at)


# --- what changed, by itself -----------------------------------------------------------------------------------------------


def figures(**told: Any) -> dict[str, Any]:
    base = {
        "spots": 100, "receivers": 40, "countries": 9, "days": 1, "median_km": 1480.0, "median_km_interval": [1300.0, 1700.0],
        "p90_km": 5000.0, "p90_km_interval": None,
        "farthest": {"rx_call": "VK7QSZ", "rx_locator": "QE37pc", "distance_km": 18023.3},
    }  # fmt: skip
    return {**base, **told}


def summary(*, bands: tuple[str, ...] = ("20m",), counts: dict[str, int] | None = None, **told: Any) -> dict[str, Any]:
    return {
        "direction": "sent",
        "counts": {"read": 100, "accepted": 100, **(counts or {})},
        "period": {"first_utc": "2026-05-16T18:02:00Z", "last_utc": "2026-05-16T23:56:00Z"},
        "all": {"overall": figures(), "by_band": {band: {} for band in bands}},
        "corroborated": {"overall": figures(**told)},
    }


def test_nothing_changed_is_said_so() -> None:
    assert changes.said(summary(), summary()) == [changes.SAME]


def test_a_distance_within_its_former_interval_is_said_to_be() -> None:
    (near,) = changes.said(summary(), summary(median_km=1650.0))
    assert near.startswith(
        "Half of the reports: beyond 1,650 km, 1,480 km before; the new figure lies within the interval"
    )
    (far,) = changes.said(summary(), summary(median_km=2650.0))
    assert far == "Half of the reports: beyond 2,650 km, 1,480 km before."
    assert changes.said(summary(), summary(median_km=1480.3)) == [changes.SAME], "what reads the same is the same"
    assert changes.said(summary(), summary(p90_km=None)) == [changes.SAME]


def test_records_counts_bands_and_verdicts() -> None:
    other = {"rx_call": "ZL3QSA", "rx_locator": "RE66ha", "distance_km": 18600.0}
    told = changes.said(
        summary(bands=("20m", "40m"), counts={"fixed": 0}),
        summary(bands=("20m", "30m"), counts={"fixed": 23, "read": 150}, farthest=other, receivers=41),
    )
    assert told == [
        "Farthest: ZL3QSA in RE66ha, 18,600 km, VK7QSZ in QE37pc, 18,020 km before.",
        "41 receivers (40 before).",
        "New: reports on 30m.",
        "No more reports on 40m.",
        "150 rows read (100 before); 23 with their locator replaced as you asked (0 before).",
    ]
    verdict = {
        "a": "wire",
        "b": "b better",
        "verdict": "no clear difference",
        "difference_db": 0.6,
        "low_db": -0.4,
        "high_db": 1.6,
    }
    before, after = (
        {**summary(), "comparison": verdict},
        {**summary(), "comparison": {**verdict, "verdict": "b better"}},
    )
    assert changes.said(before, before) == [changes.SAME]
    assert changes.said(before, after)[0].startswith(
        "wire against b better: b better better (+0.6 dB, -0.4 to +1.6), no clear"
    )
    assert changes.said(after, summary()) == ["Setups are not compared any more."]


def test_a_folder_without_a_report_says_nothing(tmp_path: Path) -> None:
    assert changes.read(tmp_path) is None
    (tmp_path / "summary.json").write_text("[1")
    assert changes.read(tmp_path) is None


# --- in Chromium -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_no_fault(browser: Any, made: Made, theme: str, width: int) -> None:
    from tests.desk.conftest import Visit

    served, at, _ = made
    visit = Visit(browser, served, color_scheme=theme, viewport={"width": width, "height": 800}, bypass_csp=True)
    name, _, value = served.cookie.partition("=")
    visit.context.add_cookies([{"name": name, "value": value, "url": served.origin}])
    visit.page.goto(f"{served.origin}{at}/results")
    visit.page.get_by_role("link", name="deck.pptx").wait_for()
    visit.page.get_by_text("Tables (").click()
    visit.without_fault()
    assert visit.complaints == []
    visit.context.close()
