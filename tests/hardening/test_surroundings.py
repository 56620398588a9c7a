"""The same bytes and no network, whatever surrounds the program."""

from __future__ import annotations

import os
import sys

import pytest

from tests.conftest import KINDS_ALONE, SAMPLES, is_outside
from tests.hardening import surroundings
from tests.hardening.test_full_disk import STUDY, prepared

# Rows, then a report of each kind of picture, by one process. What draws is loaded after the first command, as in `python -m reach`.
BOTH = f"""
import sys
from reach.cli import main

def ended(*arguments):
    try:
        main(arguments)
    except SystemExit as end:
        if end.code:
            raise

ended("vet", sys.argv[1], "--problems", "problems.csv")
{KINDS_ALONE}ended("run", "{STUDY}", "--out", "out", "--language", "en")
"""


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


def test_rows_and_a_report_are_the_same_bytes_in_odd_surroundings(tmp_path):
    """Rows, numbers, page and a picture of each kind. A whole demo, installed from a wheel, by several Pythons: `surroundings.py`."""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    told = {}
    for k, around in enumerate([surroundings.usual(env), *surroundings.odd(env, tmp_path / "around")]):
        where = tmp_path / str(k)
        where.mkdir()
        prepared(where)
        command = [sys.executable, "-c", BOTH, str(SAMPLES / "messy.toml")]
        found = surroundings.ended(command, where, around)
        assert found.returncode == 0, (around.name, found.stderr)
        problems = (where / "problems.csv").read_bytes()
        told[around.name] = {**surroundings.contents(where / "out"), "problems of messy": problems}
    first = told.pop("usual")
    assert first["problems of messy"].count(b"\n") > 10
    assert sum(name.endswith(".svg") for name in first) == sum(name.endswith(".png") for name in first) == 7
    assert len(told) == 2
    assert {name: surroundings.differing(first, other) for name, other in told.items()} == {name: [] for name in told}


def test_a_difference_would_be_seen():
    one, other = (
        {"a": b"1", "manifest.json": b'{"python": "3.11.7"}'},
        {"a": b"1", "manifest.json": b'{"python": "3.12.1"}'},
    )
    assert surroundings.differing(one, other) == ["manifest.json"]
    assert surroundings.differing(one, other, pythons=True) == []
    assert surroundings.differing({"a": b"1", "b": b""}, {"a": b"2"}) == ["a", "b"]
