"""The sample spots: made by their script, made up throughout, and true to their own truth.

The script shares no code with the package, so each can be held against the other.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import re
import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pandas as pd
import pytest

import reach
from reach import study
from reach.base import callsigns, locator
from reach.place import path, sun, world
from reach.place.daylight import daylight
from reach.place.geometry import place
from reach.suspects import find
from reach.vet import rules

SAMPLES = Path(__file__).parents[2] / "sample_spots"
NAMES = ("evening", "weekend", "messy")
ROUND_EARTH_KM_PER_KM = 0.006  # a sphere of 6371 km against WGS 84: 0.56 % at most
LATER = datetime(2027, 1, 1, tzinfo=UTC)

# Q groups that are in use on the air, so that no callsign may end in one.
_IN_USE = "QRL QRM QRN QRO QRP QRQ QRS QRT QRV QRX QRZ QSB QSK QSL QSO QSP QST QSX QSY QTC QTH QTR QTX"
Q_GROUPS = set(_IN_USE.split())
# Whose callsigns are used in territories (ISO 3166-1 names them apart).
ADMINISTRATION = {
    **dict.fromkeys(("BM", "FK", "SH"), "GB"),
    **dict.fromkeys(("GP", "RE", "NC", "PF"), "FR"),
    **dict.fromkeys(("HK", "TW"), "CN"),
    "FO": "DK",
    "PR": "US",
    "CW": "NL",
}
IDENTIFIERS = re.compile(r"(SWL|LISTENER|MONITOR)-\w+")


@pytest.fixture(scope="module")
def script() -> Iterator[ModuleType]:
    sys.path.insert(0, str(SAMPLES))  # as when it is run: it imports its neighbour
    try:
        spec = importlib.util.spec_from_file_location("make_samples", SAMPLES / "make_samples.py")
        assert spec and spec.loader
        module = importlib.util.module_from_spec(spec)
        sys.modules["make_samples"] = module
        spec.loader.exec_module(module)
        yield module
    finally:
        sys.path.remove(str(SAMPLES))
        for name in ("make_samples", "plant_errors"):
            sys.modules.pop(name, None)


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    return json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))


def table(name: str, **options: Any) -> pd.DataFrame:
    return pd.read_csv(SAMPLES / name, keep_default_na=False, **options)


def messy() -> pd.DataFrame:
    """messy.csv as a plain reader sees it, each row with the line that it starts on."""
    rows = table("messy.csv", sep=";", dtype=str, encoding="utf-8-sig")
    breaks = rows["Remarks"].str.count("\n")
    return rows.assign(line=2 + np.arange(len(rows)) + breaks.cumsum() - breaks)


def with_setups(name: str) -> pd.DataFrame:
    """The spots of a file with their setup by the schedule (null where none), listener and truth."""
    spots, schedule = table(f"{name}.csv"), table(f"{name}_schedule.csv")
    spots["setup"] = None
    times = pd.to_datetime(spots["time_utc"])
    for window in schedule.itertuples():
        inside = (times >= pd.Timestamp(window.start)) & (times < pd.Timestamp(window.end))
        assert spots.loc[inside, "setup"].isna().all(), "windows overlap"
        spots.loc[inside, "setup"] = window.setup
    spots["band"] = spots["frequency_mhz"].round().map({7: "40m", 10: "30m", 14: "20m"})
    return spots.merge(table("receivers.csv")[["callsign", "distance_km", "vertical_minus_wire_db"]], on="callsign")


# ------------------------------------------------------------------------------------------------------- how they came


def test_the_script_makes_the_same_bytes_again(script: ModuleType, tmp_path: Path) -> None:
    script.main(["--out", str(tmp_path)])
    made = {file.name: file.read_bytes() for file in tmp_path.iterdir()}
    kept = {file.name for file in SAMPLES.glob("*.csv")} | {"truth.json"}
    assert set(made) == kept - {"towns.csv"}
    for name, content in made.items():
        assert content == (SAMPLES / name).read_bytes(), name


def test_the_towns_are_picked_again_alike(script: ModuleType) -> None:
    assert script.csv_text(script.pick_towns()) == (SAMPLES / "towns.csv").read_bytes().decode()


def test_another_seed_makes_other_spots(script: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    towns = table("towns.csv", dtype={"region": str})
    monkeypatch.setattr(script, "SEED", script.SEED + 1)
    assert script.make(towns)["evening.csv"] != (SAMPLES / "evening.csv").read_bytes()


# --------------------------------------------------------------------------------------------------------- made up


def test_everything_says_that_it_is_made_up(truth: dict[str, Any]) -> None:
    for name in (*NAMES, "listening", "shared", "garden", "season"):
        loaded = study.load(SAMPLES / f"{name}.toml")
        assert loaded.made_up and "made-up" in loaded.about.lower(), name
        assert (loaded.station.callsign, loaded.station.locator, loaded.station.power_w) == ("EI4QTB/P", "IO51es", 5)
    readme = (SAMPLES / "README.md").read_text(encoding="utf-8")
    assert "made up" in readme.splitlines()[0]
    assert truth["made_up"] is True


def test_geonames_is_credited(truth: dict[str, Any]) -> None:
    credit = "Contains GeoNames data, CC BY 4.0"
    assert credit in (SAMPLES / "README.md").read_text(encoding="utf-8")
    assert truth["credit"] == credit


def test_the_towns_are_listed_with_source_and_hash() -> None:
    sources = (SAMPLES.parent / "reach" / "data" / "SOURCES.md").read_text(encoding="utf-8")
    row = next(line for line in sources.splitlines() if "`sample_spots/towns.csv`" in line)
    assert "GeoNames" in row and "CC BY 4.0" in row
    assert hashlib.sha256((SAMPLES / "towns.csv").read_bytes()).hexdigest() in row


def test_callsigns_follow_the_rule() -> None:
    calls = {*table("receivers.csv")["callsign"], "EI4QTB/P"}
    assert len(calls) == len(table("receivers.csv")) + 1
    for call in calls:
        if IDENTIFIERS.fullmatch(call):
            continue
        home = max(re.sub(r"/[PM]$", "", call).split("/"), key=len)
        found = re.fullmatch(r"[A-Z0-9]{1,2}\d(Q[R-U][A-Z])", home)
        assert found, call
        assert found[1] not in Q_GROUPS, call


def test_a_few_listeners_have_no_callsign() -> None:
    assert 3 <= table("receivers.csv")["callsign"].str.fullmatch(IDENTIFIERS.pattern).sum() <= 10


def test_prefixes_are_those_of_the_country() -> None:
    listeners = table("receivers.csv")
    listeners = listeners[~listeners["callsign"].str.fullmatch(IDENTIFIERS.pattern)]
    expected = listeners["country"].replace(ADMINISTRATION)
    found = callsigns.administrations(listeners["callsign"])
    wrong = [(c, e, f) for c, e, f in zip(listeners["callsign"], expected, found, strict=True) if e != f]
    assert wrong == []


def test_listeners_are_on_land_where_their_town_is() -> None:
    towns, listeners = table("towns.csv"), table("receivers.csv")
    lon, lat = locator.centre(listeners["locator"].to_numpy())
    assert world.on_land(lon, lat).all()
    cells = locator.from_position(towns["lon_deg"].to_numpy(), towns["lat_deg"].to_numpy())
    assert list(cells) == listeners["locator"].to_list()


# ------------------------------------------------------------------------------------------------------- the files


@pytest.mark.parametrize("name", NAMES)
def test_about_1500_spots(name: str, truth: dict[str, Any]) -> None:
    rows = len(messy()) if name == "messy" else len(table(f"{name}.csv"))
    assert 1400 <= rows <= 1650
    told = truth["files"][f"{name}.csv"]
    assert rows == told.get("rows", told["spots"])


def test_the_evening_alternates_every_ten_minutes() -> None:
    schedule = table("evening_schedule.csv", parse_dates=["start", "end"])
    assert (schedule["end"] - schedule["start"] == pd.Timedelta(minutes=10)).all()
    assert (schedule["start"].to_numpy()[1:] == schedule["end"].to_numpy()[:-1]).all()
    assert schedule["setup"].to_list() == ["vertical", "wire"] * 18


def test_the_weekend_has_a_setup_a_day() -> None:
    schedule = table("weekend_schedule.csv", parse_dates=["start", "end"])
    assert schedule["setup"].to_list() == ["vertical", "wire"]
    assert schedule["start"].dt.date.is_unique


@pytest.mark.parametrize("name", ["evening", "weekend"])
def test_the_schedule_covers_every_spot(name: str, truth: dict[str, Any]) -> None:
    spots = with_setups(name)
    assert len(spots) == len(table(f"{name}.csv"))
    assert spots["setup"].notna().all()
    assert spots["setup"].value_counts().to_dict() == truth["files"][f"{name}.csv"]["spots_by_setup"]
    assert spots["band"].value_counts().to_dict() == truth["files"][f"{name}.csv"]["spots_by_band"]


@pytest.mark.parametrize("name", ["evening", "weekend"])
def test_reports_are_whole_and_near_or_above_the_decoding_limit(name: str) -> None:
    snr_db = table(f"{name}.csv")["snr_db"]
    assert snr_db.dtype == np.int64
    assert -33 <= snr_db.min() <= -27 and snr_db.max() <= 25
    assert -22 <= snr_db.median() <= -10


def test_each_row_is_one_reception() -> None:
    for name in ("evening", "weekend"):
        assert not table(f"{name}.csv").duplicated(["time_utc", "callsign"]).any()


# ------------------------------------------------------------------------------------------------------- the truth


def test_near_the_wire_far_the_vertical_and_the_wire_a_little_to_the_east(script: ModuleType) -> None:
    near, middle, far = script.vertical_minus_wire_db(np.array([500.0, 2250.0, 8000.0]), np.array([0.0, 0.0, 270.0]))
    assert near == pytest.approx(-1.6) and far == pytest.approx(4.3) and middle == pytest.approx((near + far) / 2)
    bearings = np.array([90.0, 45.0, 0.0, 180.0, 270.0])
    eastward = script.vertical_minus_wire_db(np.full(5, 1000.0), bearings) - near
    assert eastward == pytest.approx([-0.8, -0.8 / np.sqrt(2), 0, 0, 0], abs=1e-9)


def test_geometry_of_the_truth_agrees_with_the_package(script: ModuleType) -> None:
    listeners = table("receivers.csv")
    lon, lat = locator.centre(listeners["locator"].to_numpy())
    lon0, lat0 = locator.centre(np.array(["IO51es"]))
    distance_km, bearing_deg = path.inverse(lon0, lat0, lon, lat)
    cells_km = 8.0  # the truth is reckoned to the town, not to the middle of its cell
    assert (np.abs(distance_km - listeners["distance_km"]) < cells_km + ROUND_EARTH_KM_PER_KM * distance_km).all()
    again = script.vertical_minus_wire_db(distance_km, bearing_deg)
    assert np.abs(again - listeners["vertical_minus_wire_db"]).max() < 0.12  # 20 km on the steepest part of the step


def test_the_sun_of_the_script_is_good_to_a_degree_or_so(script: ModuleType) -> None:
    times = pd.date_range("2026-05-16", "2026-05-31", freq="7h")
    lon, lat = np.array([-9.6, 139.0, -80.0, 18.0]), np.array([51.8, 36.0, 43.0, -34.0])
    plain = script.sun_elevation_deg(times, lon, lat)
    for column, (x, y) in enumerate(zip(lon, lat, strict=True)):
        better = sun.elevation_deg(times.tz_localize("UTC"), np.full(len(times), x), np.full(len(times), y))
        assert np.abs(plain[:, column] - better).max() < 1.5


@pytest.mark.parametrize("name", ["evening", "weekend"])
def test_averages_of_the_truth_are_those_of_the_listeners(name: str, truth: dict[str, Any]) -> None:
    spots = with_setups(name)
    setups = spots.groupby(["callsign", "band"])["setup"].nunique()
    both = set(setups[setups == 2].index.get_level_values("callsign"))
    everyone = table("receivers.csv")
    heard = everyone[everyone["callsign"].isin(both)]
    told = truth["files"][f"{name}.csv"]["heard_both"]
    assert len(heard) == told["listeners"]
    assert heard["vertical_minus_wire_db"].mean() == pytest.approx(told["vertical_minus_wire_db"], abs=0.006)
    for ring, values in told["by_ring_km"].items():
        low, high = map(float, ring.split("-"))
        inside = heard["distance_km"].between(low, high, inclusive="left")
        mine = heard["vertical_minus_wire_db"][inside]
        assert (len(mine), mine.mean()) == (
            values["listeners"],
            pytest.approx(values["vertical_minus_wire_db"], abs=0.006),
        )
    for centre, values in told["by_sector_centre_deg"].items():
        off = (heard["bearing_deg"] - float(centre) + 180) % 360 - 180
        mine = heard["vertical_minus_wire_db"][(off >= -15) & (off < 15)]
        assert (len(mine), mine.mean()) == (
            values["listeners"],
            pytest.approx(values["vertical_minus_wire_db"], abs=0.006),
        )


def test_plain_means_mislead(truth: dict[str, Any]) -> None:
    for name in ("evening", "weekend"):
        means = with_setups(name).groupby("setup")["snr_db"].mean()
        told = truth["files"][f"{name}.csv"]
        assert means["vertical"] - means["wire"] == pytest.approx(told["plain_means_difference_db"], abs=0.006)
        assert told["plain_means_difference_db"] < -1 < 1 < told["heard_both"]["vertical_minus_wire_db"]


def test_the_generator_obeys_its_truth_where_nothing_is_lost(script: ModuleType) -> None:
    listeners = script.invent_listeners(table("towns.csv", dtype={"region": str}))
    times = pd.date_range("2026-05-16 12:00", periods=600, freq="2min", tz="UTC")
    slots = pd.DataFrame({"time_utc": times, "band": "30m", "day_db": 0.0})
    slots["setup"] = np.where(np.arange(600) % 2 == 0, "vertical", "wire")
    loud = script.simulate(np.random.default_rng(5), slots, listeners, share=1.0, level_db=150.0)
    means = loud.groupby(["listener", "setup"])["snr_db"].mean().unstack().dropna()
    error_db = means["vertical"] - means["wire"] - script.true_difference_db(listeners)[means.index]
    assert len(error_db) > 100
    # Fast fading of 2.6 dB over some 250 reports a setup: 0.23 dB a listener; all listeners share part of the slow.
    assert error_db.std() < 0.6
    assert abs(error_db.mean()) < 0.1
    assert loud["snr_db"].min() > script.DECODE_DB


def test_the_evening_shows_its_truth_to_a_plain_eye() -> None:
    """Differences between neighbouring blocks of one listener on one band: below zero near, above zero far."""
    spots = with_setups("evening")
    spots["block"] = (pd.to_datetime(spots["time_utc"]) - pd.Timestamp("2026-05-16T18:00Z")) // pd.Timedelta(minutes=10)
    blocks = spots.groupby(["callsign", "band", "block"]).agg(
        snr_db=("snr_db", "mean"), setup=("setup", "first"), km=("distance_km", "first")
    )
    blocks = blocks.reset_index()
    after = blocks.groupby(["callsign", "band"])[["snr_db", "block", "setup"]].shift(-1)
    steps = blocks[(after["block"] == blocks["block"] + 1)]
    sign = np.where(steps["setup"] == "vertical", 1, -1)
    difference_db = sign * (steps["snr_db"] - after.loc[steps.index, "snr_db"])
    near, far = difference_db[steps["km"] < 1500], difference_db[steps["km"] > 3000]
    assert len(near) > 100 and len(far) > 80
    for values, low, high in ((near, -3.0, -1.0), (far, 1.0, 5.0)):
        assert low < values.mean() < high
        assert abs(values.mean()) > 3 * values.std() / np.sqrt(len(values))


# --------------------------------------------------------------------------------------------------- the messy export


def test_the_list_of_mistakes_is_true_to_the_file(truth: dict[str, Any]) -> None:
    rows, planted = messy().set_index("line"), table("messy_truth.csv", dtype={"planted": str})
    assert planted["line"].is_unique and planted["line"].is_monotonic_increasing
    for each in planted.itertuples():
        assert rows.loc[each.line, each.column].strip() == each.planted, each
        if each.expect == "duplicate":
            first = rows.loc[int(each.truth.removeprefix("line "))]
            assert first.str.upper().equals(rows.loc[each.line].str.upper()), each
    assert planted["expect"].value_counts().to_dict() == truth["files"]["messy.csv"]["slips_by_expectation"]


def test_rows_without_a_mistake_are_clean() -> None:
    rows, planted = messy(), table("messy_truth.csv")
    clean = rows[~rows["line"].isin(planted["line"])]
    assert len(clean) == len(rows) - len(planted)
    at = table("receivers.csv").set_index("callsign")["locator"]
    assert (clean["Grid square"].to_numpy() == at[clean["Heard by"]].to_numpy()).all()
    assert clean["Report (dB)"].str.fullmatch(r"-?\d{1,2}").all()
    assert clean["QRG (MHz)"].str.fullmatch(r"(7|10|14),\d{6}").all()
    moments = pd.to_datetime(clean["Date"] + " " + clean["UTC time"], format="%d.%m.%Y %H:%M")
    assert moments.between("2026-05-30 06:00", "2026-05-31 06:00", inclusive="left").all()


def test_the_messy_export_is_as_messy_as_promised() -> None:
    content = (SAMPLES / "messy.csv").read_bytes()
    assert content.startswith(b"\xef\xbb\xbfHeard by;Grid square;Report (dB);Date;UTC time;QRG (MHz);")
    assert b"\r\n" in content and b"fading,\ngone" in content
    planted = table("messy_truth.csv")
    kinds = set(planted["kind"])
    assert {
        *("locator-blank", "locator-letter-o", "locator-swapped-pairs", "locator-field-once", "locator-borrowed"),
        *("locator-subsquare", "locator-four-characters", "locator-eight-characters", "duplicate"),
        *("duplicate-other-snr", "snr-impossible", "date-future", "time-local", "remark-two-lines", "case-locator"),
    } <= kinds


def test_one_mistake_makes_a_false_record() -> None:
    planted = table("messy_truth.csv").query("kind == 'locator-field-once'").iloc[0]
    heard = set(messy()["Heard by"].str.strip().str.upper())
    listeners = table("receivers.csv")
    farthest_km = listeners["distance_km"][listeners["callsign"].isin(heard)].max()
    lon, lat = locator.centre(np.array(["IO51es", planted["planted"], planted["truth"]]))
    distance_km, _ = path.inverse(lon[:1], lat[:1], lon[1:], lat[1:])
    assert distance_km[0] > farthest_km + 1000 and distance_km[1] < 2500


# ------------------------------------------------------------------------------------------ the tool against the truth


def vetted(name: str) -> rules.Vetted:
    loaded = study.load(SAMPLES / f"{name}.toml")
    return rules.vet(reach.read(SAMPLES / f"{name}.csv"), station=loaded.station, options=loaded.options, now=LATER)


def test_the_tool_rejects_what_was_planted_and_nothing_else() -> None:
    found, planted = vetted("messy"), table("messy_truth.csv")
    planted = planted.groupby("expect")["line"].agg(set)
    rejected = set(found.problems.query("severity == 'rejected'")["line"])
    assert rejected == planted["rejected"]
    accepted = set(found.spots["line"])
    assert planted["harmless"] <= accepted and planted["suspect"] <= accepted
    assert not planted["duplicate"] & accepted
    assert found.counts.duplicates == len(planted["duplicate"]) + len(planted["conflict"])


def test_the_tool_reads_local_time_as_it_was_meant() -> None:
    times = vetted("messy").spots.set_index("line")["time_utc"]
    local = table("messy_truth.csv").query("kind == 'time-local'")
    assert len(local) >= 1
    assert [f"{times[line]:%H:%M}" for line in local["line"]] == local["truth"].to_list()


@pytest.mark.parametrize("name", NAMES)
def test_the_tool_suspects_what_was_planted_and_nothing_else(name: str) -> None:
    found = find.find(daylight(place(vetted(name).spots)))
    lines = set(found.problems.query("severity == 'suspect'")["line"])
    planted = table("messy_truth.csv")
    assert lines == (set(planted.query("expect == 'suspect'")["line"]) if name == "messy" else set())


# -------------------------------------------------------------------------------- what was heard, and whose rows


def test_the_listening_demo_holds_what_its_truth_says(truth: dict[str, Any]) -> None:
    """What the station heard, nobody twice in one slot, and nothing weaker than can be decoded."""
    told, rows = truth["files"]["listening.csv"], table("listening.csv")
    assert (len(rows), rows["transmitter"].nunique()) == (told["spots"], told["transmitters"])
    assert 500 <= len(rows) <= 700 and set(rows["receiver"]) == {"EI4QTB/P"}
    assert set(rows["power_w"]) == set(told["powers_w"]) and rows.groupby("transmitter")["power_w"].nunique().max() == 1
    assert not rows.duplicated(["time_utc", "transmitter"]).any() and rows["snr_db"].min() >= -28
    assert np.median(rows["snr_db"] - 10 * np.log10(rows["power_w"])) == told["median_snr_at_1_w_db"]
    # A slot holds many signals, each with a frequency of its own: that is how the two directions can be told apart.
    spread = rows.groupby("time_utc")["frequency_mhz"].agg(lambda mhz: 1e6 * (mhz.max() - mhz.min()))
    assert spread.median() > 45


def test_the_shared_demo_holds_what_its_truth_says(truth: dict[str, Any]) -> None:
    told, rows = truth["files"]["shared.csv"], table("shared.csv")
    heard = rows["callsign"] == "EI4QTB/P"
    counted = {
        "own": int((rows["transmitter"] == "EI4QTB/P").sum()),
        "other_transmitter": int((rows["transmitter"] == told["other"]["callsign"]).sum()),
        "heard_by_the_station": int(heard.sum()),
    }
    assert counted == told["rows"] and sum(counted.values()) == len(rows) <= 900
    assert set(rows.loc[rows["transmitter"] == "EI9QUC", "transmitter_locator"]) == {told["other"]["locator"]}
    found = reach.walk(SAMPLES / "shared.toml", now=LATER)
    assert (len(found.owned.raw), found.owned.other, found.owned.opposite) == (
        counted["own"], {"EI9QUC": counted["other_transmitter"]}, counted["heard_by_the_station"],
    )  # fmt: skip
    assert found.comparison.control is not None, "the other station changed nothing and serves as the control"
    assert abs(found.comparison.control.difference_db) < 3


def test_the_garden_finds_what_its_truth_says(truth: dict[str, Any]) -> None:
    told = truth["files"]["garden.csv"]
    walk = reach.walk(SAMPLES / "garden.toml", now=LATER)
    found = walk.several
    assert sum(told["spots_by_setup"].values()) == told["spots"] == sum(found.reports.values())
    for each in found.differences:
        true_db = told["heard_all"].get(f"{each.upper}_minus_{each.lower}_db")
        assert each.low_db <= true_db <= each.high_db, f"{each.upper} minus {each.lower}"
    assert found.top == ("vertical", "wire") and found.order[-1] == "loop"
    # Where the loop comes in lies the largest step of all, which is none between the two that are named first.
    assert walk.clock.code == "fits" and walk.compare("vertical", "wire").clock.code == "fits"


def test_the_season_finds_what_its_truth_says(truth: dict[str, Any]) -> None:
    told, rows = truth["files"]["season.csv"], table("season.csv")
    assert {str(k): int(v) for k, v in rows["transmitter"].value_counts().items()} == told["rows"]
    found = reach.walk(SAMPLES / "season.toml", now=LATER).season
    (step,), day = found.changes, date.fromisoformat(told["change"]["day"])
    assert step.first <= day <= step.last and abs((step.day - day).days) <= 1
    assert step.low_db <= told["change"]["db"] <= step.high_db and step.whose == "station"
    (moved,) = [each for each in found.controls if each.changed]
    other = told["control_changed"]
    assert moved.name == other["callsign"] and moved.changed.low_db <= other["db"] <= moved.changed.high_db
    assert [each.size_db is not None for each in found.log] == [True, True]


def test_new_callsigns_are_fictional_too(truth: dict[str, Any]) -> None:
    calls = {*table("listening.csv")["transmitter"], truth["files"]["shared.csv"]["other"]["callsign"]}
    calls |= set(table("season.csv")["transmitter"].str.removesuffix("/P"))
    for call in calls:
        assert re.fullmatch(r"[A-Z0-9]{1,3}[0-9]Q[RSTU][A-Z]", call) and call[-3:] not in Q_GROUPS, call
    assert "EI9QUC" not in set(table("receivers.csv")["callsign"])
