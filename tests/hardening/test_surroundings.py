"""The same bytes and no network, whatever surrounds the program."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.conftest import SAMPLES, is_outside
from tests.hardening import surroundings
from tests.hardening.test_full_disk import STUDY, prepared

PICTURE = """
import sys, hashlib
from pathlib import Path
from reach.cli import main
try:
    main(["locator", "IO51es"])
except SystemExit:
    pass
from reach.draw import style
from reach.tell import pictures
from matplotlib.figure import Figure

class Picture:
    name, alt_text = "x", "a line"
    def build(self):
        figure = Figure(figsize=(4, 3), dpi=style.DPI)
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        axes.plot([0, 1], [0, 1]); axes.set_title("a $5_wire_$", parse_math=False)
        return figure

pictures._draw(Picture(), Path(sys.argv[1]))
"""


def drawn(tmp_path, cwd, **surroundings: str) -> list[bytes]:
    out = tmp_path / "pictures"
    out.mkdir(exist_ok=True)
    subprocess.run(
        [sys.executable, "-c", PICTURE, str(out)],
        cwd=cwd, check=True, stdout=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(["", *sys.path]).lstrip(os.pathsep), **surroundings},
    )  # fmt: skip
    return [(out / name).read_bytes() for name in ("x.png", "x.svg")]


def test_a_picture_is_the_same_under_any_settings(tmp_path):
    plain, odd = tmp_path / "plain", tmp_path / "odd"
    for folder in (plain, odd):
        folder.mkdir()
    (odd / "matplotlibrc").write_text("lines.linewidth: 9\naxes.facecolor: red\nfont.size: 30\nsavefig.pad_inches: 3\n")
    usual = drawn(tmp_path, plain)
    assert (
        drawn(tmp_path, odd, MPLBACKEND="module://nobody.knows", TZ="Asia/Kathmandu", LC_ALL="C", PYTHONHASHSEED="7")
        == usual
    )


@pytest.mark.parametrize(
    ("event", "arguments", "outside"),
    [
        ("socket.connect", (None, ("192.0.2.1", 80)), True),
        ("socket.connect", (None, ("2001:db8::1", 80, 0, 0)), True),
        ("socket.sendto", (None, ("192.0.2.1", 53)), True),
        ("socket.getaddrinfo", ("example.org", 80, 0, 0, 0), True),
        ("socket.getaddrinfo", (b"example.org", 80, 0, 0, 0), True),
        ("socket.connect", (None, ("127.0.0.1", 80)), False),
        ("socket.connect", (None, ("::1", 80, 0, 0)), False),
        ("socket.connect", (None, "/run/some.sock"), False),
        ("socket.getaddrinfo", ("localhost", 80, 0, 0, 0), False),
        ("open", ("192.0.2.1",), False),
    ],
)
def test_what_counts_as_the_network(event, arguments, outside):
    assert is_outside(event, arguments) is outside


@pytest.mark.parametrize(
    ("umask", "surroundings"),
    [
        (0o077, {"TERM": "dumb", "OMP_NUM_THREADS": "3", "PYTHONHASHSEED": "9", "TZ": "Pacific/Chatham"}),
        (
            0o000,
            {
                "MPLBACKEND": "module://nobody.knows",
                "PYTHONOPTIMIZE": "2",
                "PYTHONUTF8": "0",
                "LC_ALL": "C",
                "COLUMNS": "7",
            },
        ),
    ],
)
def test_rows_are_judged_the_same_without_a_home_and_under_odd_settings(tmp_path, umask, surroundings):
    (tmp_path / "odd").mkdir()
    (tmp_path / "plain").mkdir()

    def judged(where, mask, env):
        subprocess.run(
            [sys.executable, "-m", "reach", "vet", str(SAMPLES / "messy.toml"), "--problems", "problems.csv"],
            cwd=where, env=env, umask=mask, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        return (where / "problems.csv").read_bytes()

    usual = {**os.environ, "PYTHONPATH": os.pathsep.join(["", *sys.path]).lstrip(os.pathsep)}
    bare = {name: usual[name] for name in ("PATH", "PYTHONPATH")}  # no HOME, nothing of XDG
    told = judged(tmp_path / "plain", 0o022, usual)
    assert judged(tmp_path / "odd", umask, {**bare, **surroundings}) == told and told.count(b"\n") > 10


def test_a_report_has_the_same_bytes_in_odd_surroundings(tmp_path):
    """Rows, numbers, page and every picture. A whole demo, installed from a wheel, by several Pythons: `surroundings.py`."""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    told = {}
    for k, around in enumerate([surroundings.usual(env), *surroundings.odd(env, tmp_path / "around")]):
        where = tmp_path / str(k)
        where.mkdir()
        prepared(where)
        command = [sys.executable, "-m", "reach", "run", STUDY, "--out", "out", "--language", "en"]
        found = surroundings.ended(command, where, around)
        assert found.returncode == 0, (around.name, found.stderr)
        told[around.name] = surroundings.contents(where / "out")
    first = told.pop("usual")
    assert len(first) > 15 and len(told) == 3
    assert {name: surroundings.differing(first, other) for name, other in told.items()} == {name: [] for name in told}


def test_a_difference_would_be_seen():
    one, other = (
        {"a": b"1", "manifest.json": b'{"python": "3.11.7"}'},
        {"a": b"1", "manifest.json": b'{"python": "3.12.1"}'},
    )
    assert surroundings.differing(one, other) == ["manifest.json"]
    assert surroundings.differing(one, other, pythons=True) == []
    assert surroundings.differing({"a": b"1", "b": b""}, {"a": b"2"}) == ["a", "b"]
