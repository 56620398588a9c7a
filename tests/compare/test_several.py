"""Three to eight setups at once: the fit against least squares by hand, laws, who can be compared, and what is said."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure
from scipy.stats import studentized_range

from reach import study as studies
from reach.base.words import TERMINAL
from reach.cli.compare import command
from reach.cli.run import command as run
from reach.compare import compare, several, variance
from reach.compare.several import Difference, Scored, Standing
from reach.draw import charts, style
from reach.errors import CompareError, StudyError
from reach.tell.sentences import several as said
from tests.cli.answers import after_the_rows
from tests.compare.several_coverage import judged
from tests.compare.several_simulator import CASES, Turns, make
from tests.compare.simulator import Scenario

SHORT = Scenario("turns", hours=6, receivers=60)
THREE = Turns("test: three", (3, 0, 0), world=SHORT)
SPOTS = make(THREE, 1)
FOUND = several.several(SPOTS, THREE.setups)


def edge(difference_db: float, error_db: float) -> Scored:
    nothing = np.zeros(0)
    return Scored(difference_db, error_db, 30.0, nothing, nothing.astype(int), nothing, nothing, 20.0, 20.0)


# --- the fit ----------------------------------------------------------------------------------------------------------


def test_levels_are_weighted_least_squares():
    """Against numpy's least squares on rows scaled by 1 / error, with the sum of levels held at 0."""
    pairs = {("A", "B"): edge(2.0, 0.5), ("A", "C"): edge(3.5, 1.0), ("B", "C"): edge(1.0, 0.25)}
    level_db, projection = several.fitted(("A", "B", "C"), pairs)
    rows = np.array([[1, -1, 0], [1, 0, -1], [0, 1, -1]]) / np.array([[0.5], [1.0], [0.25]])
    right = np.array([2.0 / 0.5, 3.5 / 1.0, 1.0 / 0.25])
    truth, *_ = np.linalg.lstsq(np.vstack([rows, [1e3, 1e3, 1e3]]), np.append(right, 0.0), rcond=None)
    assert level_db == pytest.approx(truth, abs=1e-9)
    assert projection @ [2.0, 3.5, 1.0] == pytest.approx(level_db) and abs(level_db.sum()) < 1e-12


def test_the_largest_set_that_edges_join_is_compared():
    names = ("A", "B", "C", "D", "E")
    assert several.connected(names, [("A", "B"), ("C", "D"), ("D", "E")]) == ("C", "D", "E")
    assert several.connected(names, [("C", "D"), ("A", "B")]) == ("A", "B")  # of equals the one with the first name
    assert several.connected(names, []) == ()


def test_the_factor_for_all_differences_is_tukey_s():
    """Tukey's studentized range, table value q(0.05; 3, 20) = 3.578 (Harter 1960, as reprinted in textbooks)."""
    assert several.all_together(3, 20.0) == pytest.approx(3.578 / np.sqrt(2), abs=1e-3)
    assert several.all_together(5, 1e6) == pytest.approx(studentized_range.ppf(0.95, 5, 200) / np.sqrt(2), rel=1e-6)
    assert 1 < several.cautious(5.0) < several.cautious(30.0) < several.cautious(50.0) < several.cautious(90.0)


# --- laws -------------------------------------------------------------------------------------------------------------

DB = st.floats(-20, 20)
ERROR_DB = st.floats(0.1, 5)


@given(st.lists(st.tuples(DB, ERROR_DB), min_size=6, max_size=6), st.sampled_from("ABCD"), DB)
def test_a_constant_added_to_one_setup_moves_its_level_alone(values, moved, by_db):
    names = ("A", "B", "C", "D")
    pairs = [(a, b) for k, a in enumerate(names) for b in names[k + 1 :]]
    before = {pair: edge(*each) for pair, each in zip(pairs, values, strict=True)}
    after = {
        (a, b): replace(each, difference_db=each.difference_db + by_db * ((a == moved) - (b == moved)))
        for (a, b), each in before.items()
    }
    change = several.fitted(names, after)[0] - several.fitted(names, before)[0]
    others = [k for k, name in enumerate(names) if name != moved]
    assert change[others] == pytest.approx(change[others[0]], abs=1e-9)
    assert change[names.index(moved)] - change[others[0]] == pytest.approx(by_db, abs=1e-9)


def test_a_constant_added_to_the_reports_of_one_setup_moves_it_alone():
    """With a decoding limit so low that nothing is cut, which a constant would move."""
    louder = SPOTS.assign(snr_db=SPOTS["snr_db"] + 7.0 * (SPOTS["setup"] == "B").to_numpy())
    before, after = (several.several(each, THREE.setups, decoding_limit_db=-90) for each in (SPOTS, louder))
    for one, other, by_db in (("A", "C", 0.0), ("B", "A", 7.0), ("B", "C", 7.0)):
        was, now = (_minus(found, one, other) for found in (before, after))
        assert now == pytest.approx(tuple(value + by_db for value in was), abs=1e-9)


def _minus(found, one, other):
    """Difference and interval of one minus another, whichever stands above."""
    each = found.between(one, other)
    three = (each.difference_db, each.low_db, each.high_db)
    return three if each.upper == one else (-three[0], -three[2], -three[1])


def test_names_and_the_order_of_rows_change_nothing():
    other = {"A": "wire", "B": "loop", "C": "antenna"}
    renamed = SPOTS.sample(frac=1, random_state=5).assign(setup=lambda t: t["setup"].astype(object).map(other))
    again = several.several(renamed, [other[name] for name in THREE.setups])
    for each in FOUND.differences:
        assert _minus(again, other[each.upper], other[each.lower]) == pytest.approx(
            (each.difference_db, each.low_db, each.high_db), abs=1e-9
        )


def test_order_of_names_changes_nothing():
    again = several.several(SPOTS, ("C", "A", "B"))
    assert (again.order, again.top, again.standing) == (FOUND.order, FOUND.top, FOUND.standing)
    for one, other in zip(FOUND.differences, again.differences, strict=True):
        assert other.difference_db == pytest.approx(one.difference_db, abs=1e-9)
        assert other.low_db == pytest.approx(one.low_db, abs=1e-9)


def test_each_pair_alone_is_the_comparison_of_two():
    spots = SPOTS.drop(columns=["distance_km", "bearing_deg"])
    for each in FOUND.edges:
        two = compare(spots, each.a, each.b)
        assert each.difference_db == pytest.approx(two.difference_db, abs=1e-9)
        assert (each.low_db, each.high_db) == pytest.approx((two.low_db, two.high_db), abs=1e-9)
        assert each.pairs == two.pairs


def test_together_is_wider_than_alone_and_the_truth_is_inside():
    for each in FOUND.differences:
        assert each.low_db < each.alone_low_db <= each.difference_db <= each.alone_high_db < each.high_db
    assert judged(FOUND, dict(zip(THREE.setups, THREE.levels_db, strict=True))).together
    assert FOUND.standing == Standing.ONE_BEST and FOUND.top == ("A",)


# --- who can be compared ----------------------------------------------------------------------------------------------


def case(name: str) -> Turns:
    (found,) = (each for each in CASES if each.name == name)
    return replace(found, world=replace(found.world, receivers=50))


def test_setups_that_never_alternated_are_named_and_not_compared():
    turns = case("A, B in the morning, C, D after noon")
    found = several.several(make(turns, 3), turns.setups)
    assert set(found.order) == {"A", "B"} and found.unconnected == ("C", "D")
    text = " ".join(said.everything(found, say=TERMINAL))
    assert "C and D cannot be compared with " in text and "A and C as two: " in text
    assert {(e.a, e.b) for e in found.edges if e.reason is None} == {("A", "B"), ("C", "D")}


def test_long_stretches_are_refused():
    turns = case("four hours each")
    found = several.several(make(turns, 3), turns.setups)
    assert found.standing == Standing.CANNOT_TELL and not found.differences
    assert said.headline(found, say=TERMINAL) == "Cannot tell A, B or C from one another."


@pytest.mark.parametrize("names", [("A", "B"), ("A", "B", "A"), tuple("ABCDEFGHI")])
def test_too_few_too_many_or_twice_the_same(names):
    with pytest.raises(CompareError, match="three to eight different setups"):
        several.several(SPOTS, names)


# --- what is said -----------------------------------------------------------------------------------------------------


def told(*pairs: tuple[str, str, float, float]) -> tuple[Difference, ...]:
    return tuple(Difference(a, b, (low + high) / 2, low, high, low, high) for a, b, low, high in pairs)


def test_nobody_is_ranked_who_cannot_be_told_apart():
    one = told(("A", "B", 0.5, 2.0), ("A", "C", 1.0, 3.0), ("B", "C", -0.5, 1.5))
    assert several.standing(("A", "B", "C"), one) == (Standing.ONE_BEST, ("A",), (("B", "C"),))
    shared = told(("A", "B", -0.2, 1.0), ("A", "C", 0.4, 2.0), ("B", "C", -0.1, 1.5))
    assert several.standing(("A", "B", "C"), shared) == (Standing.SHARED_TOP, ("A", "B"), (("B", "C"),))
    none = told(("A", "B", -1, 1), ("A", "C", -1, 1), ("B", "C", -1, 1))
    assert several.standing(("A", "B", "C"), none)[:2] == (Standing.NONE_SHOWN, ("A", "B", "C"))


@given(st.lists(st.booleans(), min_size=28, max_size=28))
def test_groups_that_cannot_be_told_apart_hold_every_such_pair_and_no_other(apart):
    names = tuple("ABCDEFGH")
    pairs = [(a, b) for k, a in enumerate(names) for b in names[k + 1 :]]
    differences = told(*((a, b, 0.5 if each else -0.5, 2.0) for (a, b), each in zip(pairs, apart, strict=True)))
    says, top, tied = several.standing(names, differences)
    groups = replace(FOUND, order=names, differences=differences, standing=says, top=top, tied=tied).alike
    inside = {(a, b) for group in groups for k, a in enumerate(group) for b in group[k + 1 :]}
    assert set(tied) <= inside
    assert inside <= {pair for pair, each in zip(pairs, apart, strict=True) if not each}


def test_many_that_cannot_be_told_apart_are_one_clause():
    alike = told(*((a, b, -1.0, 1.0) for a, b in ("BC", "BD", "CD")))
    above = told(*(("A", other, 1.0, 3.0) for other in "BCD"))
    says, top, tied = several.standing(tuple("ABCD"), above + alike)
    found = replace(FOUND, order=tuple("ABCD"), differences=above + alike, standing=says, top=top, tied=tied)
    assert len(tied) == 3 and said.headline(found, say=TERMINAL).endswith(". B, C and D cannot be told apart.")


def test_the_scale_of_the_picture_says_where_its_ticks_stand():
    """A tick at 7.5 dB is not one of 8."""
    for half_db in (1.0, 3.0, 6.0, 8.7, 12.0):
        found = SimpleNamespace(several=replace(FOUND, differences=told(("A", "B", -half_db, half_db))))
        axes = Figure(figsize=(19.2, 10.8), dpi=100).add_subplot()
        charts.draw_several(axes, found, style.LIGHT)
        ticks = axes.get_xticks()
        assert len(ticks) > 2 and np.array_equal(ticks, np.round(ticks))


def test_pairs_that_do_not_add_up_are_told():
    found = replace(FOUND, misfit=(replace(FOUND.edges[0], off_db=1.6),))
    assert "The pairs do not add up (A-B by 1.6 dB)" in " ".join(said.everything(found, say=TERMINAL))


def test_the_finding_in_words():
    assert said.headline(FOUND, say=TERMINAL).startswith("A was best of 3: ")
    heard = replace(FOUND, direction="heard")
    text = " ".join(said.everything(heard, say=TERMINAL))
    assert (
        "more SNR than" in text
        and "stronger" not in text.replace("no signal is stronger", "")
        and "receiver" not in text
    )


# --- as a user asks ---------------------------------------------------------------------------------------------------


@pytest.fixture
def files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code = SPOTS["rx_call"].cat.codes
    table = SPOTS[["snr_db", "band", "setup"]].assign(
        time=SPOTS["time_utc"].dt.strftime("%Y-%m-%d %H:%M:%S"),
        callsign=code.map(lambda k: f"G{k % 10}Q{'RSTU'[k // 26 % 4]}{chr(65 + k % 26)}"),
        locator=code.map(lambda k: f"IO{80 + k % 20}{'abcd'[k % 4]}{'klmn'[k // 4 % 4]}"),
    )
    table.astype({"snr_db": int}).to_csv("garden.csv", index=False)
    (tmp_path / "garden.toml").write_text(
        'files = ["garden.csv"]\n[station]\nlocator = "IO51es"\n[compare]\nsetups = ["A", "B", "C"]\n'
    )
    return tmp_path


def screen(*args: str) -> str:
    done = CliRunner().invoke(command, list(args), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_the_command_with_names_and_with_a_study(files):
    named = screen("garden.csv", "--locator", "IO51es", "--setup", "A", "--setup", "B", "--setup", "C")
    assert named == screen("garden.toml")
    named = after_the_rows(named)
    assert named.startswith("A was best of 3: ")
    as_json = json.loads(screen("garden.toml", "--json"))
    assert as_json["top"] == ["A"] and as_json["sentences"][0] == named.splitlines()[0]
    two = screen("garden.toml", "--setup", "A", "--setup", "B")
    assert two == screen("garden.csv", "--locator", "IO51es", "--a", "A", "--b", "B")


@pytest.mark.parametrize(
    ("given", "asked"),
    [(("--a", "A", "--b", "B"), ("A", "B")), (("--setup", "A", "--setup", "C"), ("A", "C")),
     (("--setup", "C", "--setup", "A", "--setup", "B"), ("C", "A", "B"))],
)  # fmt: skip
def test_run_takes_the_setups_without_a_study(files, given, asked):
    done = CliRunner().invoke(run, ["garden.csv", *given, "--write-study", "made.toml"], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    assert studies.load(files / "made.toml").compare.asked == asked


@pytest.mark.parametrize("given", [("--a", "A"), ("--setup", "A"), ("--setup", "A", "--setup", "B", "--a", "C")])
def test_half_a_question_is_one_sentence(files, given):
    done = CliRunner().invoke(run, ["garden.csv", *given, "--write-study", "made.toml"])
    assert done.exit_code == 2 and "--a and --b" in done.output


@pytest.mark.parametrize(
    ("asked", "complaint"),
    [
        ('a = "A"\nsetups = ["A", "B", "C"]', "name two setups with `a` and `b`, or three to eight"),
        ('setups = ["A", "B"]', "three to eight names"),
        ('setups = ["A", "B", "B"]', "'B' twice"),
        ('a = "A"', "name two setups"),
    ],
)
def test_a_study_that_asks_for_something_else_is_one_sentence(files, asked, complaint):
    (files / "garden.toml").write_text(f'files = ["garden.csv"]\n[compare]\n{asked}\n')
    with pytest.raises(StudyError, match=complaint):
        studies.load(files / "garden.toml")


# --- edges ------------------------------------------------------------------------------------------------------------


def scored(difference_db: float, error_db: float, seed: int, within_min: float = 14.0) -> Scored:
    """Twenty hours of contrasts at twelve receivers."""
    rng = np.random.default_rng(seed)
    share = np.full(600, 1 / 600)
    push = share * rng.normal(0, 1, 600)
    return Scored(
        difference_db, error_db, 11.0, np.arange(600) * 2.0, np.arange(600) % 12, push, share, 20.0, within_min
    )


def together(differences_db: dict[tuple[str, str], float], errors_db=None, names=("A", "B", "C")) -> several.Several:
    """What pairs with these differences say together, the rest unasked."""
    errors_db = errors_db or {}
    pairs = {pair: scored(db, errors_db.get(pair, 0.2), k) for k, (pair, db) in enumerate(differences_db.items())}
    edges = [
        replace(FOUND.edges[0], a=a, b=b, difference_db=db, error_db=errors_db.get((a, b), 0.2), off_db=None)
        for (a, b), db in differences_db.items()
    ]
    return several._together(names, edges, pairs, dict.fromkeys(names, 7), None)


@pytest.mark.parametrize(
    ("off_db", "error_db", "told"),
    [(2.97, 0.2, []), (3.1, 0.2, ["AB", "AC", "BC"]), (3.1, 0.6, []), (-3.1, 0.2, ["AB", "AC", "BC"])],
)
def test_pairs_that_miss_the_fit_by_a_decibel_and_twice_their_error_do_not_add_up(off_db, error_db, told):
    """Three pairs as sure as each other: what they do not add up by is shared out evenly."""
    errors_db = dict.fromkeys((("A", "B"), ("A", "C"), ("B", "C")), error_db)
    found = together({("A", "B"): 2.0, ("A", "C"): 2.0, ("B", "C"): off_db}, errors_db)
    assert [each.a + each.b for each in found.misfit] == told
    assert [each.off_db for each in found.edges] == pytest.approx([off_db / 3, -off_db / 3, off_db / 3])


def test_setups_that_no_pair_joins_are_left_out_and_counts_are_of_what_is_used():
    found = together({("A", "B"): 3.0, ("C", "D"): 1.0, ("B", "E"): 1.0}, names=tuple("ABCDE"))
    assert found.order == ("A", "B", "E") and found.unconnected == ("C", "D")
    assert found.pairs == 1200 and found.receivers == 12
    assert [each.off_db is None for each in found.edges] == [False, True, False]
    assert found.between("E", "A") is found.between("A", "E") is not None and found.between("A", "C") is None
    nobody = several._together(("A", "B", "C"), [], {}, {}, None)
    assert (nobody.order, nobody.pairs, nobody.receivers, nobody.standing) == ((), 0, 0, Standing.CANNOT_TELL)


def test_a_difference_of_one_pair_has_its_error_and_the_factor_for_all():
    """No other edge joins the two: level differences are that edge, its degrees of freedom the fewest of all edges."""
    pairs = {("A", "B"): scored(3.0, 0.2, 1), ("B", "C"): replace(scored(1.0, 0.2, 2, within_min=60.0), df=4.0)}
    projection = several.fitted(("A", "B", "C"), pairs)[1]
    found = several._difference("A", "B", ("A", "B", "C"), pairs, projection)
    alone = variance.spread(several.stacked([pairs["A", "B"]], np.array([1.0])))
    factor = several.all_together(3, 4.0) * 1.3  # of 60 minutes
    assert found.difference_db == pytest.approx(3.0)
    assert found.high_db - 3.0 == pytest.approx(factor * alone.like, rel=1e-6) and 3.0 - found.low_db == pytest.approx(
        found.high_db - 3.0
    )
    low, high = variance.interval(3.0, 1.3 / 1.15 * alone.like, 4.0)
    assert (found.alone_low_db, found.alone_high_db) == pytest.approx((low, high))


def test_a_weighted_sum_of_edges_lies_on_one_axis_of_time():
    one, two = scored(1.0, 0.2, 1), replace(scored(2.0, 0.2, 2), width_min=33.0)
    found = several.stacked([one, two], np.array([0.5, -1.5]))
    assert found.push == pytest.approx(np.concatenate([0.5 * one.push, -1.5 * two.push]))
    assert (
        found.share == pytest.approx(np.concatenate([0.25 * one.share, 0.75 * two.share])) and found.width_min == 33.0
    )
    assert found.time_min.tolist() == [*one.time_min, *two.time_min] and found.receiver.tolist() == [
        *one.receiver,
        *two.receiver,
    ]


@pytest.mark.parametrize(("receivers", "error"), [(6.0, (0.5, 5.0)), (5.9, (0.3, 30.0))])
def test_few_receivers_speak_for_themselves_here_too(receivers, error):
    assert several._error(variance.Spread(0.5, 5.0, 0.3, 30.0, receivers, 32.0)) == error


@pytest.mark.parametrize("count", [3, 8])
def test_three_and_eight_setups_can_be_asked_for(count):
    spots = SPOTS.iloc[:300]
    found = several.several(spots, tuple("ABCDEFGH"[:count]))
    assert len(found.edges) == count * (count - 1) // 2 and found.setups == tuple("ABCDEFGH"[:count])
    assert found.reports["A"] == (spots["setup"] == "A").sum()


def test_an_interval_that_begins_at_0_is_not_apart():
    assert [each.apart for each in told(("A", "B", 0.0, 1.0), ("A", "B", 0.1, 1.0))] == [False, True]


def test_several_show_themselves_in_one_line():
    assert repr(FOUND) == "<Several: A, B, C: one best>"
    assert repr(compare(SPOTS, "A", "B")).startswith("<Comparison of A and B: ")
