"""Reach against the same numbers worked out row by row, and the quantiles against numpy."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import quantile
from reach.measure import reach as measured
from reach.measure import sectors
from reach.measure.claims import Kind
from reach.measure.receivers import receivers
from reach.measure.tally import tally
from reach.place.geometry import place
from reach.radio.power import Power
from reach.spots import CORROBORATED, RECEIVERS, RING_EDGES_KM, SUSPECT, UNCONFIRMED
from tests import factory
from tests.measure.test_tally import BANDS, PLACES, spot, table

TRUST_COLUMNS = ["rx_call", "rx_locator", "trust"]


@given(
    st.lists(st.tuples(st.integers(-60, 60), st.integers(0, 6)), min_size=1, max_size=30),
    st.lists(st.floats(0, 1), min_size=1, max_size=5),
)
def test_weighted_quantiles_are_numpys(pairs, shares):
    values, counts = zip(*pairs, strict=True)
    if sum(counts) == 0:
        assert np.isnan(quantile.weighted(values, counts, shares)).all()
        return
    truth = np.quantile(np.repeat(values, counts), shares)
    assert quantile.weighted(values, counts, shares) == pytest.approx(truth, abs=1e-9)


def test_quantile_of_nothing():
    assert np.isnan(quantile.weighted([], [], [0.5]))[0]
    assert quantile.weighted([np.nan, 4], [5, 1], [0.5]) == [4]


def _summary(spots, power=None):
    spots = spots if "distance_km" in spots else place(spots)
    return measured.reach(tally(spots), power=power).to_dict()


@given(st.lists(spot, min_size=1, max_size=40))
def test_figures_are_those_of_the_rows(rows):
    spots = place(table(rows))
    figures = _summary(spots)["all"]["overall"]
    assert figures["spots"] == len(spots)
    assert figures["receivers"] == spots["rx_call"].nunique()
    assert figures["squares"] == spots["rx_locator"].astype(str).str[:4].nunique()
    assert figures["median_km"] == pytest.approx(np.median(spots["distance_km"]), abs=1e-3)
    assert figures["p90_km"] == pytest.approx(np.quantile(spots["distance_km"], 0.9), abs=1e-3)
    assert figures["farthest"]["distance_km"] == pytest.approx(spots["distance_km"].max(), abs=1e-3)
    assert figures["snr_db"]["median"] == np.median(spots["snr_db"])
    assert figures["by_hour"] == [(spots["time_utc"].dt.hour == h).sum() for h in range(24)]


@given(st.lists(spot, min_size=1, max_size=40))
def test_every_cut_adds_up(rows):
    block = _summary(place(table(rows)))["all"]
    total = block["overall"]["spots"]
    assert sum(block["overall"]["by_hour"]) == total
    assert sum(ring["reports"] for ring in block["overall"]["by_ring"]) == total
    assert sum(sector["reports"] for sector in block["overall"]["by_sector"]) == total
    assert sum(part["spots"] for part in block["by_band"].values()) == total
    assert sum(part["spots"] for part in block["by_band_and_setup"]) == total


def test_headline_counts_corroborated_receivers_only():
    rows = [(place_, "20m", "wire", 100 * k, -10, "IO51es") for k, place_ in enumerate(PLACES)]
    known = {("F4QRA", "JN18du"): CORROBORATED, ("DL5QSA", "JO62qm"): CORROBORATED, ("W1QUZ", "FN42hi"): SUSPECT}
    spots = factory.trusted(
        place(table(rows)), pd.DataFrame([(*pair, kind) for pair, kind in known.items()], columns=TRUST_COLUMNS)
    )
    found = _summary(spots)
    everything = found["all"]["overall"]["farthest"]
    assert (everything["rx_call"], everything["trust"]) == ("W1QUZ", SUSPECT)
    assert found["corroborated"]["overall"]["farthest"]["rx_locator"] == "JO62qm"
    assert found["spots_between"] == 3
    assert found["suspect_spots"] == 1
    assert tally(spots).cells["trust"].value_counts()[UNCONFIRMED] == 2


def test_kilometres_per_watt_uses_each_setups_power():
    rows = [(PLACES[0], "20m", "vertical", 0, -10, "IO51es"), (PLACES[3], "20m", "wire", 60, -10, "IO51es")]
    spots = place(table(rows))
    near, far = spots["distance_km"]
    half, five = Power(0.5, "antenna"), Power(5.0, "radio")
    found = _summary(spots, power={("vertical", "20m"): half, ("wire", "20m"): five})["all"]
    assert found["by_setup"]["vertical"]["km_per_watt"] == pytest.approx(near / 0.5, abs=1e-2)
    assert found["by_setup"]["wire"]["km_per_watt"] == pytest.approx(far / 5, abs=1e-2)
    assert found["overall"]["km_per_watt"] == pytest.approx(max(near / 0.5, far / 5), abs=1e-2)
    assert found["by_setup"]["vertical"]["median_snr_at_1_w_db"] == pytest.approx(-10 - 10 * np.log10(0.5), abs=1e-3)
    assert found["by_setup"]["wire"]["median_snr_at_1_w_db"] == pytest.approx(-10 - 10 * np.log10(5), abs=1e-3)
    unnamed = place(table([(PLACES[0], "20m", None, 0, -10, "IO51es")]))
    without_setup = _summary(unnamed, power={("", "20m"): five})["all"]["overall"]
    assert without_setup["km_per_watt"] == pytest.approx(near / 5, abs=1e-2)
    missing = _summary(spots, power={("vertical", "20m"): half})["all"]
    assert missing["overall"]["km_per_watt"] is None and missing["by_setup"]["vertical"]["km_per_watt"] is not None


@given(st.lists(spot, min_size=1, max_size=40))
def test_receivers_are_those_of_the_rows(rows):
    spots = place(table(rows))
    listed = receivers(tally(spots))
    assert (np.diff(listed["reports"]) <= 0).all() and listed.index.tolist() == list(range(len(listed)))
    found = listed.set_index(["rx_call", "rx_locator"])
    groups = spots.groupby(["rx_call", "rx_locator"], observed=True)
    assert len(found) == groups.ngroups
    for index, group in groups:
        assert found.loc[index, "reports"] == len(group)
        assert found.loc[index, "median_snr_db"] == np.median(group["snr_db"])
        assert found.loc[index, "best_snr_db"] == group["snr_db"].max()
        assert found.loc[index, "first_utc"] == group["time_utc"].min()
        assert found.loc[index, "last_utc"] == group["time_utc"].max()


def test_no_spots_have_a_summary_and_no_receivers():
    nothing = table([])
    found = _summary(nothing)
    assert found["all"]["overall"]["spots"] == 0
    assert found["all"]["overall"]["farthest"] is None
    assert found["period"]["first_utc"] is None
    empty = receivers(tally(place(nothing)))
    assert list(empty.columns) == list(RECEIVERS) and empty.empty


def test_sectors_are_centred_on_north():
    assert sectors.sector_of([0, 14.999, 15, 344.999, 345, 359.9, np.nan]).tolist() == [0, 0, 1, 11, 0, 0, -1]


def test_rings_own_their_inner_edge():
    assert sectors.ring_of([0, 499.999, 500, 20003.9]).tolist() == [0, 0, 1, len(RING_EDGES_KM) - 2]


def test_reach_is_what_pandas_says_of_the_spots_written_out():
    result = factory.result(1200, 90)
    spots, found = result.spots, result.reach.all.overall
    assert found.reports == len(spots)
    assert found.receivers == spots["rx_call"].nunique()
    assert found.squares == spots["rx_locator"].astype(str).str[:4].nunique()
    assert found.countries == spots["country"].nunique()
    assert found.median_km.value == pytest.approx(spots["distance_km"].quantile(0.5), rel=1e-12)
    assert found.p90_km.value == pytest.approx(spots["distance_km"].quantile(0.9), rel=1e-12)
    top = spots.loc[spots["distance_km"].idxmax()]
    assert found.farthest is not None
    assert (found.farthest.call, found.farthest.locator) == (top["rx_call"], top["rx_locator"])
    assert found.farthest.distance_km == top["distance_km"]
    assert (
        found.farthest.reports
        == (spots["rx_call"].eq(top["rx_call"]) & spots["rx_locator"].eq(top["rx_locator"])).sum()
    )


def test_a_quantile_interval_covers_what_it_promises():
    """Receivers drawn from a known population, with unequal zeal: the interval holds its median 95 times in 100."""
    rng = np.random.default_rng(11)
    truth_km = np.exp(7.0)  # the median of the lognormal distances below
    inside = []
    for _ in range(400):
        km, reports = rng.lognormal(7.0, 0.8, 80), rng.geometric(0.2, 80)
        found = measured.quantile_estimate(km, reports, 0.5)
        inside.append(found.low <= truth_km <= found.high)
    assert 0.92 <= np.mean(inside) <= 0.98


def test_a_share_interval_covers_what_it_promises():
    rng = np.random.default_rng(12)
    inside = []
    for _ in range(400):
        holds, reports = rng.random(80) < 0.3, rng.geometric(0.2, 80)
        found = measured.share_estimate(holds, reports)
        inside.append(found.low <= 0.3 <= found.high)
    assert 0.91 <= np.mean(inside) <= 0.98


@given(st.lists(st.tuples(st.floats(0, 20_000), st.integers(0, 50)), max_size=40), st.sampled_from([0.1, 0.5, 0.9]))
def test_an_interval_holds_its_estimate_and_the_range(rows: list[tuple[float, int]], share: float):
    km, reports = [row[0] for row in rows], [row[1] for row in rows]
    found = measured.quantile_estimate(km, reports, share)
    written_out = np.repeat(km, reports)
    if not len(written_out):
        assert np.isnan(found.value)
        assert not found.has_interval
        return
    assert found.value == pytest.approx(np.quantile(written_out, share), rel=1e-9, abs=1e-9)
    if found.has_interval:
        slack = 1e-9 * (1 + found.value)
        assert written_out.min() - slack <= found.low <= found.value + slack
        assert found.value - slack <= found.high <= written_out.max() + slack


def _figures_of(spots: pd.DataFrame) -> dict:
    """What a block's figures are of, row by row."""
    km, call, snr = spots["distance_km"], spots["rx_call"].astype(str), spots["snr_db"].astype(float)
    hour, place = spots["time_utc"].dt.hour, call + " " + spots["rx_locator"].astype(str)
    sector = np.floor(((spots["bearing_deg"] + 15) % 360) / 30)
    far = spots.assign(call=call, locator=spots["rx_locator"].astype(str)).sort_values(["call", "locator"])
    far = far.loc[far["distance_km"].idxmax()]
    its = spots[place == place[far.name]]
    return {
        "counts": (len(spots), call.nunique(), place.nunique(), spots["rx_locator"].astype(str).str[:4].nunique(),
                   spots["country"].nunique(), spots["time_utc"].dt.floor("D").nunique()),
        "km": np.quantile(km, [0.5, 0.9]),
        "farthest": (far["call"], far["locator"], len(its), its["snr_db"].max(), its["time_utc"].min()),
        "bands": set(its["band"].astype(str)),
        "snr_db": np.quantile(snr, [0, 0.25, 0.5, 0.75, 1]),
        "hours": {h: ((hour == h).sum(), call[hour == h].nunique(), np.median(km[hour == h])) for h in hour.unique()},
        "sectors": [((sector == k).sum(), call[sector == k].nunique()) for k in range(12)],
        "sector_km": [np.quantile(km[sector == k], [0.5, 0.9]) if (sector == k).any() else [np.nan] * 2 for k in range(12)],
        "rings": [((km >= low) & (km < high)).sum() for low, high in zip(RING_EDGES_KM[:-1], RING_EDGES_KM[1:], strict=True)],
    }  # fmt: skip


def _same_figures(found: measured.Figures, spots: pd.DataFrame) -> None:
    truth = _figures_of(spots)
    counts = (found.reports, found.receivers, found.places, found.squares, found.countries, found.days)
    assert counts == truth["counts"]
    assert [found.median_km.value, found.p90_km.value] == pytest.approx(truth["km"], rel=1e-9)
    far = found.farthest
    assert far is not None and found.far_km == far.distance_km == spots["distance_km"].max()
    assert (far.call, far.locator, far.reports, far.best_snr_db, far.first_utc) == truth["farthest"]
    assert set(far.bands) == truth["bands"]
    assert found.snr_db == pytest.approx(truth["snr_db"])
    hours = {hour.hour_utc: (hour.reports, hour.receivers, hour.median_km.value) for hour in found.hours}
    assert list(hours) == sorted(hours) and hours.keys() == truth["hours"].keys()
    for hour, expected in truth["hours"].items():
        assert hours[hour] == pytest.approx(expected, rel=1e-9)
    assert [(each.reports, each.receivers) for each in found.sectors] == truth["sectors"]
    for each, (median, p90) in zip(found.sectors, truth["sector_km"], strict=True):
        assert [each.median_km, each.p90_km] == pytest.approx([median, p90], rel=1e-9, nan_ok=True)
    assert [each.reports for each in found.rings] == truth["rings"]


@pytest.mark.parametrize("seed", [1, 2])
def test_every_part_has_the_figures_of_its_own_rows(seed):
    """All, by band, by setup and by both, of everybody and of corroborated receivers: each against its rows alone."""
    rng = np.random.default_rng(seed)
    rows = [
        (PLACES[rng.integers(5)], rng.choice(BANDS), rng.choice(["vertical", "wire", None]), int(rng.integers(3 * 86400)),
         int(rng.integers(-30, 10)), rng.choice(["IO51es", "IO51et"])) for _ in range(60)
    ]  # fmt: skip
    known = pd.DataFrame([(*pair, rng.choice([CORROBORATED, UNCONFIRMED])) for pair in PLACES], columns=TRUST_COLUMNS)
    spots = factory.trusted(place(table(rows)), known)
    found = measured.reach(tally(spots))
    for block, its in ((found.all, spots), (found.corroborated, spots[spots["trust"] == CORROBORATED])):
        band, setup = its["band"].astype(str), its["setup"].astype(object).where(its["setup"].notna(), "")
        assert set(block.by_band) == set(band) and set(block.by_setup) == set(setup) - {""}
        assert set(block.by_band_and_setup) == set(zip(band, setup, strict=True))
        if len(its):
            _same_figures(block.overall, its)
        for name, figures in block.by_band.items():
            _same_figures(figures, its[band == name])
        for name, figures in block.by_setup.items():
            _same_figures(figures, its[setup == name])
        for (name, other), figures in block.by_band_and_setup.items():
            _same_figures(figures, its[(band == name) & (setup == other)])


def test_without_reports_nothing_is_far():
    nothing = measured.reach(tally(place(table([])))).all.overall
    assert nothing.farthest is None and nothing.far_km == 0 and not nothing.has_directions


def test_what_was_heard_in_the_stations_own_cell_came_from_no_direction():
    near = (("F4QRA", "IO51es"), "20m", "wire", 0, -5, "IO51es")
    far = (PLACES[3], "20m", "wire", 60, -9, "IO51es")
    assert not measured.reach(tally(place(table([near])))).all.overall.has_directions
    assert measured.reach(tally(place(table([near, far])))).all.overall.has_directions is True


@pytest.mark.parametrize("share", [0.5, 0.9])
def test_the_interval_of_receivers_of_equal_zeal_is_the_textbooks(share):
    """Cochran (1977), Sampling Techniques, 3rd ed., 3.2: p -+ 1.96 sqrt(pq / (n - 1)); of 41 receivers a kilometre apart."""
    km = np.arange(41.0)
    found = measured.quantile_estimate(km, np.full(41, 7), share)
    p = np.mean(km <= found.value)
    half = 1.96 * np.sqrt(p * (1 - p) / 40)
    assert [found.low, found.high] == pytest.approx(
        np.quantile(np.repeat(km, 7), [share - half, min(1, share + half)]), abs=0.01
    )
    part = measured.share_estimate(km < 10, np.full(41, 7))
    half = 1.96 * np.sqrt(10 / 41 * 31 / 41 / 40)
    assert [part.value, part.low, part.high] == pytest.approx([10 / 41, 10 / 41 - half, 10 / 41 + half], abs=1e-4)


def test_six_receivers_of_equal_zeal_have_an_interval_and_five_have_none():
    """And one that sends most of the reports is hardly more than one receiver: summary.json promises six effective ones."""
    for count, has in ((5, False), (6, True)):
        km, reports = np.arange(float(count)), np.full(count, 3)
        assert measured.quantile_estimate(km, reports, 0.5).has_interval is has
        assert measured.share_estimate(km < 2, reports).has_interval is has
    assert not measured.quantile_estimate(np.arange(10.0), [100, *[1] * 9], 0.5).has_interval


def test_a_station_that_moved_is_as_far_from_a_receiver_as_on_most_of_its_reports():
    """Both ways round, so that neither the first path nor the last by name is taken."""
    for most, least in (("IO51es", "JN58td"), ("JN58td", "IO51es")):
        rows = [(PLACES[3], "20m", "wire", 60 * k, -10 - k, most if k else least) for k in range(4)]
        spots = place(table(rows))
        (found,) = receivers(tally(spots)).to_dict("records")
        assert found["distance_km"] == spots["distance_km"][1] != spots["distance_km"][0]
        assert (found["reports"], found["best_snr_db"], found["median_snr_db"]) == (4, -10, -11.5)
        assert found["last_utc"] - found["first_utc"] == pd.Timedelta(minutes=3)


@pytest.mark.parametrize(("reports", "count", "few"), [(10, 3, False), (9, 3, True), (10, 2, True), (500, 2, True)])
def test_ten_reports_of_three_receivers_are_enough(reports, count, few):
    nothing = measured.Estimate(0.0)
    assert measured.Sector(0, reports, count, nothing, 100.0, 200.0).is_few is few
    some = measured.reach(tally(place(table([])))).all.overall
    assert dataclasses.replace(some, reports=reports, receivers=count).is_few is few


def test_in_a_shell_the_headline_is_what_is_shown():
    found = factory.result(1200, 90).reach
    sure = found.headline
    assert (
        repr(found)
        == f"<Reach: {sure.reports} reports of {sure.receivers} receivers, half from beyond {sure.median_km.value:.0f} km>"
    )


def test_who_reported_nothing_is_no_observation():
    km, reports = np.arange(10.0), np.array([1, 2, 3, 1, 1, 2, 1, 1, 2, 1])
    more_km, more = np.append(km, [3.5, 99.0]), np.append(reports, [0, 0])
    assert measured.quantile_estimate(more_km, more, 0.5) == measured.quantile_estimate(km, reports, 0.5)
    assert measured.share_estimate(more_km < 4, more) == measured.share_estimate(km < 4, reports)
    assert measured.share_estimate(km < 4, reports).has_interval


def test_a_share_lies_between_nothing_and_all():
    """One of twenty receivers: 0.05 -+ 1.96 sqrt(0.05 * 0.95 / 19) reaches beyond 0 and, turned round, beyond 1."""
    half = 1.96 * np.sqrt(0.05 * 0.95 / 19)
    one, others = (
        measured.share_estimate(np.arange(20) == 0 if few else np.arange(20) > 0, np.ones(20)) for few in (1, 0)
    )
    assert (one.low, one.high) == (0.0, pytest.approx(0.05 + half, abs=1e-4))
    assert (others.low, others.high) == (pytest.approx(0.95 - half, abs=1e-4), 1.0)


def test_of_those_as_far_the_first_by_callsign_then_locator_is_the_farthest():
    """Whatever place of the station's they heard."""
    rows = [((call, name), "20m", "wire", k, -9, own) for k, (call, name, own) in enumerate([
        ("W1QUZ", "FN42hi", "IO51es"), ("DL5QSA", "JO62qm", "IO51es"), ("DL5QSA", "JO31ab", "IO51et"), ("F4QRA", "JN18du", "IO51es"),
    ])]  # fmt: skip
    far = measured.reach(tally(place(table(rows)).assign(distance_km=5000.0))).all.overall.farthest
    assert far is not None and (far.call, far.locator, far.first_utc.second) == ("DL5QSA", "JO31ab", 2)


def test_a_square_is_four_characters():
    rows = [(("F4QRA", name), "20m", "wire", k, -9, "IO51es") for k, name in enumerate(["JN18du", "JN18aa", "JN19du"])]
    found = measured.reach(tally(place(table(rows)))).all.overall
    assert (found.squares, found.places, found.receivers) == (2, 3, 1)


@pytest.mark.parametrize(("known", "told"), [(1, None), (2, -10 - 10 * np.log10(5.0))])
def test_of_those_who_were_heard_half_must_tell_their_power(known, told):
    """The top of the module: over the reports whose own power is known, null below half of them."""
    rows = [(PLACES[0], "20m", "wire", 60 * k, -10, "IO51es") for k in range(known)]
    rows += [(PLACES[3], "20m", "wire", 60 * k, -20, "IO51es") for k in range(4 - known)]
    counted = tally(place(table(rows)))
    at = pd.MultiIndex.from_tuples(
        [("F4QRA", "20m", counted.cells["hour_utc"][0])], names=["rx_call", "band", "hour_utc"]
    )
    found = measured.reach(counted, far_power_w=pd.Series([5.0], at)).to_dict()["all"]["overall"]
    assert found["median_snr_at_1_w_db"] == (told if told is None else pytest.approx(told, abs=1e-3))


def test_numbers_of_the_summary_have_three_decimals():
    def numbers(found):
        if isinstance(found, float):
            yield found
        for each in found.values() if isinstance(found, dict) else found if isinstance(found, list) else ():
            yield from numbers(each)

    told = list(numbers(factory.result(1200, 90).reach.to_dict()))
    assert len(told) > 100 and all(each == round(each, 3) for each in told)
    assert any(each != round(each, 2) for each in told)


def test_receivers_with_as_many_reports_are_in_order_of_callsign_then_locator():
    rows = [(place_, "20m", "wire", k, -9, own) for k, (place_, own) in enumerate([
        *((each, "IO51es") for each in PLACES), (PLACES[3], "IO51et"), (PLACES[1], "IO51et"),
    ])]  # fmt: skip
    listed = receivers(tally(place(table(rows))))
    assert listed[["rx_call", "rx_locator", "reports"]].to_numpy().tolist() == [
        ["DL5QSA", "JO62qm", 2], ["W1QUZ", "FN42hi", 2], ["DL5QSA", "JO31ab", 1], ["F4QRA", "JN18du", 1], ["LISTENER-7", "IO51", 1],
    ]  # fmt: skip


def test_the_first_of_everything_may_be_singled_out():
    """Midnight, north, the longest wave, the first square: twelve receivers with five reports each, of which one elsewhere."""
    calls = [f"G4QR{chr(65 + k)}" for k in range(12)]
    rows = [((call, "JN00aa"), "40m", "wire", 6 * 3600 + k, -9, "IO51es") for call in calls for k in range(5)]
    rows += [((call, "JN01aa"), "20m", "wire", 7 * 3600, -9, "IO51es") for call in calls]
    spots = place(table(rows))
    there = (spots["band"] == "40m").to_numpy()
    spots = spots.assign(trust=pd.Categorical([CORROBORATED] * len(spots)), bearing_deg=np.where(there, 359.0, 90.0))
    spots = spots.assign(distance_km=np.where(there, 450.0, 100.0))
    claims = measured.reach(tally(spots)).claims
    first = {
        Kind.FULLEST_HOUR: 0, Kind.FARTHEST_HOUR: 0, Kind.FULLEST_SECTOR: 0, Kind.FARTHEST_SECTOR: 0, Kind.FULLEST_SQUARE: "JN00",
        Kind.FARTHEST_BAND: "40m", Kind.HOUR_AND_SECTOR: (0, 0), Kind.HOUR_OF_THE_FAR: 0, Kind.CALENDAR_HOUR: 494_160,
    }  # fmt: skip
    assert {kind: claims[kind].winner for kind in first} == first
    assert all(claims[kind].apart for kind in first)
    assert measured.reach(tally(spots)).to_dict()["claims"]["fullest-sector"] == {
        "winner": 0, "runner_up": 90, "reason": "apart", "alike": [0], "value": 60.0, "next_value": 12.0, "spots": 60,
        "receivers": 12, "candidates": 2, "p": 0.001, "confounders": ["listeners", "band"],
    }  # fmt: skip


def test_one_in_ten_from_beyond_says_nothing_where_the_farthest_itself_is_the_tenth():
    """Twenty reports: of three from the farthest receiver the last tenth lies all there, of two it begins before. Nor do nine
    reports say anything."""
    for near, far, tells in ((18, 2, True), (17, 3, False), (8, 1, False)):
        rows = [((f"G4QR{'ABC'[k % 3]}", "IO91aa"), "20m", "wire", k, -9, "IO51es") for k in range(near)]
        rows += [(PLACES[3], "20m", "wire", 99 + k, -9, "IO51es") for k in range(far)]
        found = measured.reach(tally(place(table(rows)))).all.overall
        assert (found.reports, found.receivers, found.tells_tenth) == (near + far, 4, tells)


def test_near_and_far_are_told_in_round_steps():
    """Eight receivers at 1,200 km and eight at 7,600 km, each at its own level: near ends with its step of 500 km, far begins
    with its thousand, and the far ones are the weaker by 12 dB."""
    rows = [((f"G4QR{chr(65 + k)}", f"JN{k:02d}aa"), "20m", "wire", 600 * m, -5 - 12 * (k >= 8) - m, "IO51es")
            for k in range(16) for m in range(3)]  # fmt: skip
    spots = place(table(rows))
    far = spots["rx_locator"].astype(str) >= "JN08"
    spots = spots.assign(distance_km=np.where(far, 7600.0, 1200.0), trust=pd.Categorical([CORROBORATED] * len(spots)))
    claim = measured.reach(tally(spots)).corroborated.claims[Kind.WEAKER]
    assert claim.apart and (claim.winner, claim.runner_up) == (7000.0, 1500.0)
    assert (claim.value, claim.next_value) == (18, 6)
    for least in (1200.0, 7600.0):  # one receiver fewer than eight on either side is too few
        some = spots[~((spots["distance_km"] == least) & spots["rx_locator"].isin(["JN00aa", "JN15aa"]))]
        assert not measured.reach(tally(some)).corroborated.claims[Kind.WEAKER].apart
