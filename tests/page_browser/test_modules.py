"""The page's modules by themselves, held against Python."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from reach.base import words
from reach.measure.reach import quantile_estimate
from reach.place import sun
from reach.tell import page

NEAR_DEG = 0.03  # what the low-precision formulas may be off
Run = Callable[[str, str], Any]


@pytest.fixture(scope="module")
def run(browser: Any) -> Any:
    """A function that evaluates an expression behind some modules, named with blanks between."""
    blank = browser.new_page()

    def evaluate(modules: str, expression: str) -> Any:
        text = "\n".join(page._part(f"js/{name}.js") for name in modules.split())
        return blank.evaluate(f"() => {{ {text}\n return {expression}; }}")

    yield evaluate
    blank.close()


@pytest.mark.parametrize("value", [0, 1, 7.4, 999, 999.6, 1000, 1234.5001, 12344, 20003.9])
def test_distances_read_the_same(run: Run, value: float) -> None:
    assert run("say", f"Say.km({value})") == words.km(value)
    assert run("say", f"Say.beyond({value})") == words.PRINT.beyond(value)
    assert run("say", f"Say.count({value})") == words.count(value)
    assert run("say", f"Say.distance({value}, 4.2)") == words.PRINT.distance(value, 4.2)


@pytest.mark.parametrize("bearing", [0, 11.2, 11.3, 90, 191.25, 348.74, 348.75, 359.99])
def test_compass_points_read_the_same(run: Run, bearing: float) -> None:
    assert run("say", f"Say.compass({bearing})") == words.compass(bearing)


def test_the_sun_stands_where_it_stands(run: Run) -> None:
    """Overhead by the page's formula, the sun's elevation is 90 degrees by the project's own: in 50 years."""
    rng = np.random.default_rng(7)
    times = pd.to_datetime(rng.integers(946_684_800, 2_524_608_000, 200), unit="s", utc=True)
    milliseconds = [int(moment.timestamp() * 1000) for moment in times]
    found = np.array(run("sun", f"{json.dumps(milliseconds)}.map(Sun.overhead)"))
    elevation = sun.elevation_deg(times, found[:, 0], found[:, 1])
    assert np.max(90 - np.asarray(elevation)) < NEAR_DEG
    midnight = np.array(run("sun", f"{json.dumps(milliseconds)}.map(Sun.midnight)"))
    assert np.max(90 + np.asarray(sun.elevation_deg(times, midnight[:, 0], midnight[:, 1]))) < NEAR_DEG


def test_quantiles_and_intervals_are_those_of_python(run: Run) -> None:
    rng = np.random.default_rng(3)
    for size in (1, 2, 5, 40, 300):
        km = np.sort(rng.lognormal(7, 1, size).round(3))
        reports = rng.integers(0, 30, size)
        for share in (0.5, 0.9):
            call = (
                f"Count.estimate({json.dumps(km.tolist())}, Uint32Array.from({json.dumps(reports.tolist())}), {share})"
            )
            found, wanted = run("count", call), quantile_estimate(km, reports, share)
            for name in ("value", "low", "high"):
                theirs = np.nan if found[name] is None else found[name]
                assert theirs == pytest.approx(getattr(wanted, name), rel=1e-12, nan_ok=True), (size, share, name)


@pytest.mark.parametrize(
    ("value", "written"),
    [
        ('"a,b"', '"a,b"'), ("'say \"no\"'", '"say ""no"""'), ("'=1+1'", "'=1+1"), ("'@x'", "'@x"), ("'-x'", "'-x"),
        ("-12.5", "-12.5"), ("NaN", ""), ("null", ""), ("'two\\nlines'", '"two\nlines"'),
    ],
)  # fmt: skip
def test_a_cell_of_csv(run: Run, value: str, written: str) -> None:
    assert run("tables", f"Tables.csv([], [[{value}]])") == f"\r\n{written}\r\n"
