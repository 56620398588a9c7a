"""Pictures as files: the same bytes whoever draws them, nothing left behind, and a bug is told where it happened."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from reach.draw import gallery, style
from reach.tell import folder, pictures
from reach.tell.sentences import direction
from tests import factory

FEW = ("distance-log", "hours", "timeline")


@pytest.fixture(scope="module")
def findings():
    return factory.result(300, 24)


@pytest.fixture
def few(monkeypatch):
    """Only some pictures are asked for here, those that are drawn soonest; helpers know them all."""
    every = gallery.pictures
    monkeypatch.setattr(
        gallery, "pictures", lambda *given, **how: [each for each in every(*given, **how) if each.name in FEW]
    )


def drawn(findings, folder: Path, helpers: int, **how) -> dict[str, bytes]:
    with pictures.Drawers(helpers) as drawers, drawers.start(findings, folder, **how) as drawing:
        assert drawers.helpers == helpers
        files = drawing.finish()
    assert sorted(files) == sorted(folder.iterdir())
    return {path.name: path.read_bytes() for path in files}


def test_the_same_bytes_however_many_draw(findings, tmp_path):
    alone, three = drawn(findings, tmp_path / "1", 0), drawn(findings, tmp_path / "3", 2)
    assert list(alone) == [f"{p.name}.{kind}" for p in gallery.pictures(findings) for kind in ("png", "svg")]
    assert alone == three


def test_a_line_is_as_wide_whatever_was_measured_before():
    """On axes of one's own letters are fitted to pixels, in files they are not; a helper has seen files only."""
    words = "Half of 1 580 reports came from beyond 2 080 km"
    fitted = style.width_px(words, 30)
    with style.own_settings():
        as_it_is = style.width_px(words, 30)
        style._width_px.cache_clear()
        assert style.width_px(words, 30) == as_it_is != fitted


def test_helpers_draw_and_are_gone_at_the_end(findings, tmp_path, few):
    with pictures.Drawers(1) as drawers, drawers.start(findings, tmp_path / "out", style="dark") as drawing:
        for thread in drawing._threads:  # nothing is drawn here
            thread.join()
        assert len(list((tmp_path / "out").iterdir())) == 2 * len(FEW)
        assert len(drawing.finish()) == 2 * len(FEW)
        # The same helper draws the next walk too.
        with drawers.start(findings, tmp_path / "again") as more:
            more.finish()
        process = drawers._helpers[0]._process
        assert process.poll() is None
    assert process.poll() is not None


def test_two_walks_at_once_share_a_helper(findings, tmp_path, few):
    alone = drawn(findings, tmp_path / "alone", 0)
    with (
        pictures.Drawers(1) as drawers,
        drawers.start(findings, tmp_path / "a") as first,
        drawers.start(findings, tmp_path / "b") as second,
    ):
        for thread in (*first._threads, *second._threads):  # one after the other, and nothing is drawn here
            thread.join()
        for drawing, folder in ((second, tmp_path / "b"), (first, tmp_path / "a")):
            assert {path.name: path.read_bytes() for path in drawing.finish()} == alone, folder


def test_a_walk_that_is_given_up_does_not_wait_for_its_turn(findings, tmp_path, few):
    with pictures.Drawers(1) as drawers, drawers._helpers[0].turn(lambda: False):  # another walk's, for ever
        with drawers.start(findings, tmp_path / "out"):
            pass
        assert not list((tmp_path / "out").iterdir())


def test_where_no_helper_can_be_had_this_process_draws(findings, tmp_path, few, monkeypatch):
    monkeypatch.setattr(pictures.sys, "executable", "")
    with pictures.Drawers(2) as drawers, drawers.start(findings, tmp_path / "out") as drawing:
        assert drawers.helpers == 0
        assert len(drawing.finish()) == 2 * len(FEW)


@pytest.mark.parametrize(("told", "wanted"), [("0", 0), ("1", 1), ("99", pictures._MOST_HELPERS), ("", 2), ("many", 2)])
def test_the_environment_says_how_many_help(monkeypatch, told, wanted):
    monkeypatch.setenv("REACH_HELPERS", told)
    monkeypatch.setattr(pictures, "_processors", lambda: 3)
    started = []
    monkeypatch.setattr(pictures, "_Helper", lambda: started.append("helper"))
    pictures.Drawers()
    assert len(started) == wanted


@pytest.mark.parametrize("asked", ["begin", "start", "table of spots"])
def test_helpers_that_wait_start_when_they_are_asked_for_and_once(findings, tmp_path, few, monkeypatch, asked):
    started = []
    monkeypatch.setattr(pictures, "_Helper", lambda: started.append("helper"))
    monkeypatch.setattr(pictures, "Drawing", lambda *_: None)
    drawers = pictures.Drawers(2, at_once=False)
    assert not started and drawers.helpers == 0
    if asked == "table of spots":
        with folder.begin(tmp_path / "out") as begun:
            begun.write_spots(findings.spots, direction.ends(findings), drawers)
    else:
        drawers.begin() if asked == "begin" else drawers.start(findings, tmp_path / "pictures")
    assert len(started) == drawers.helpers == 2
    drawers.begin()
    assert len(started) == 2


@pytest.mark.parametrize("moment", ["at once", "later"])
def test_what_a_dying_helper_had_in_hand_is_drawn_here(findings, tmp_path, few, monkeypatch, moment):
    with pictures.Drawers(1) as drawers:
        (helper,) = drawers._helpers
        if moment == "at once":
            helper._process.kill()
            helper._process.wait()
        else:
            asked = helper.ask

            def dies(what):
                helper._process.kill()
                return asked(what)

            monkeypatch.setattr(helper, "ask", dies)
        with drawers.start(findings, tmp_path / "out") as drawing:
            for thread in drawing._threads:
                thread.join()
            assert len(drawing.finish()) == 2 * len(FEW)
    assert len(list((tmp_path / "out").iterdir())) == 2 * len(FEW)


@pytest.mark.parametrize("where", ["helper", "here"])
def test_a_bug_is_told_as_one(findings, tmp_path, where):
    """Receivers without their reports: every map of them fails."""
    broken = replace(findings, receivers=findings.receivers.drop(columns="reports"))
    helpers = pictures.Drawers(int(where == "helper"))
    with pytest.raises(KeyError, match="reports") as told, helpers, helpers.start(broken, tmp_path / "out") as drawing:
        for thread in drawing._threads:
            thread.join()
        drawing.finish()
    notes = getattr(told.value, "__notes__", [])
    if where == "helper":
        assert "by a helper" in notes[0] and "maps.py" in notes[0]  # which picture, and the line of our code
    else:
        assert not notes


def test_an_interrupted_drawing_stops(findings, tmp_path):
    with (
        pytest.raises(KeyboardInterrupt),
        pictures.Drawers(1) as drawers,
        drawers.start(findings, tmp_path / "out") as drawing,
    ):
        raise KeyboardInterrupt
    assert not any(thread.is_alive() for thread in drawing._threads)
    assert len(list((tmp_path / "out").iterdir())) < 2 * len(gallery.pictures(findings))


def test_rows_are_not_sent(findings):
    """Millions of them would be copied to every helper; the powers behind the spots stay the same, and what is counted."""
    sent = findings.for_pictures()
    assert len(sent.spots) < 12 < len(findings.spots) and sent.problems.empty and sent.tally.cells.empty
    assert sent.powers == findings.powers
    assert sent.tally.reports == findings.tally.reports == len(findings.spots) and sent.bands == findings.bands
    assert sent.counted["reports"].sum() == findings.reach.headline.reports


def test_a_script_of_the_user_runs_once(tmp_path):
    """Helpers are no copies of the user's own program, which needs no guard round its main part."""
    (tmp_path / "tiny.csv").write_text("time,callsign,locator,snr,band\n2026-05-16 18:02,G4QRA,IO91wm,-12,20m\n")
    (tmp_path / "mine.py").write_text(
        "print('once')\n"
        "from reach.draw import gallery\n"
        "from reach.tell import pictures\n"
        "every = gallery.pictures\n"
        "gallery.pictures = lambda *given, **how: every(*given, **how)[-2:]\n"
        "from reach.walk import walk\n"
        "found = walk('tiny.csv', locator='IO51es').findings\n"
        "with pictures.Drawers(1) as drawers, drawers.start(found, __import__('pathlib').Path('out')) as drawing:\n"
        "    for thread in drawing._threads: thread.join()\n"
        "    print(len(drawing.finish()))\n"
    )
    ran = subprocess.run([sys.executable, "mine.py"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    once, files = ran.stdout.split()
    assert once == "once" and int(files) == 4
