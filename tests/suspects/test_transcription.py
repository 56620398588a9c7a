"""Transcription errors: what leads from one locator to another, and which locators may have been meant."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import grammar
from reach.base import locator as places
from reach.suspects import transcription

letters = "ABCDEFGHIJKLMNOPQRSTUVWX"
locators = st.builds(
    lambda f, s, u: f"{f}{s:02d}{u.lower()}",
    st.text(letters[:18], min_size=2, max_size=2),
    st.integers(0, 99),
    st.text(letters, min_size=2, max_size=2),
)


@pytest.mark.parametrize(
    ("one", "other", "error"),
    [
        ("JN58td", "HN58td", "neighbouring-key"),  # H and J lie side by side
        ("JN58td", "JM58td", "neighbouring-key"),
        ("JN58td", "JN57td", "neighbouring-key"),
        ("JN58td", "JN55td", "neighbouring-key"),  # on the number pad
        ("JN58td", "AN58td", "wrong-character"),
        ("JN58td", "JN18td", "wrong-character"),
        ("JN58td", "NJ58td", "characters-exchanged"),
        ("JN58td", "JN85td", "characters-exchanged"),
        ("JN58td", "JN58dt", "characters-exchanged"),
        ("JN58td", "NJ85dt", "latitude-for-longitude"),
        ("JN58ab", "AB58jn", "pairs-exchanged"),
        ("JN58td", "JE51tu", "mirrored"),
        ("JN58td", "IN41ed", ""),
        ("JN58td", "FM18lw", ""),
        ("JN58td", "JN58td", ""),
        ("JN58td", "jn58TD", ""),
        ("JN58td12", "JN85td", "characters-exchanged"),  # as far as both go
        ("JN58", "JN85td", "characters-exchanged"),
        ("JN58td", "JN58", ""),
    ],
)
def test_one_error_by_code(one, other, error):
    assert transcription.relations([one], [other])[0] == error


def test_many_at_once_come_out_as_one_by_one():
    others = ["HN58td", "NJ58td", "FM18lw", "JN58te"] * 700
    together = transcription.relations(["JN58td"] * len(others), others)
    assert list(together[:4]) * 700 == list(together)
    assert transcription.relations([], []).shape == (0,)


@given(locators, st.data(), st.sampled_from([4, 6]), st.sampled_from(["", "36"]))
def test_what_lies_between_two_is_the_first_kind_that_the_candidates_have(name, data, characters, more):
    """Looked for directly, not among the candidates: the same answer all the same."""
    found = transcription.candidates([name[:characters]])
    at = data.draw(st.integers(0, found.values.shape[1] - 1))
    meant = np.minimum(found.values[0, at], np.array(transcription.SIZES) - 1)
    other = transcription.text(meant, name[:characters])
    lead = found.there[0] & (found.values[0] == transcription.numbers(other)).all(axis=1)
    expected = transcription.CODES[found.kind[lead].min()] if lead.any() else ""
    given = [name[:characters] + (more if characters == 6 else "")]
    assert transcription.relations(given, [other])[0] == expected


def test_far_is_the_first_four_characters():
    one, others = np.full(3, "JN58td", dtype=object), np.array(["JN85td", "jn58te", "JN58"], dtype=object)
    assert transcription.are_far(one, others).tolist() == [True, False, False]
    for at, following in enumerate("KO69"):  # the next letter or digit, in which a single bit may differ
        other = f"{'JN58td'[:at]}{following}{'JN58td'[at + 1 :]}"
        assert transcription.are_far(one[:1], np.array([other], dtype=object)).tolist() == [True], other
    every = np.array([f"{a}{b}00aa" for a in letters[:18] for b in letters[:18]], dtype=object)
    a, b = (part.ravel() for part in np.meshgrid(every, every))
    assert (transcription.are_far(a, b) == (a != b)).all()


@given(locators)
def test_numbers_and_text_are_inverse(name):
    assert transcription.text(transcription.numbers(name)) == name
    assert transcription.text(transcription.numbers(name), name + "36") == name + "36"
    assert transcription.text(transcription.numbers(name), name[:4]) == name[:4]


@given(locators)
def test_centres_are_those_of_the_locator(name):
    lon, lat = transcription.centres(transcription.numbers(name))
    expected = places.centre([name])
    assert lon == pytest.approx(expected[0][0], abs=1e-9) and lat == pytest.approx(expected[1][0], abs=1e-9)


@given(locators)
def test_candidates_are_other_locators_and_cover_every_kind(name):
    found = transcription.candidates([name])
    names = [transcription.text(values) for values in found.values[0][found.there[0]]]
    assert name not in names and all(grammar.judge(each).locator == each for each in names)
    share = np.exp(found.log_prior()[0])[found.there[0]].sum()
    assert share <= sum(transcription.KINDS.values()) + 1e-9 and share > 0.5
    singles = sum(sum(a != b for a, b in zip(name, each, strict=True)) == 1 for each in set(names))
    assert singles == 17 + 17 + 9 + 9 + 23 + 23


@given(locators, locators)
def test_errors_work_both_ways(one, other):
    """What one error turned into another can be turned back by one of that kind, but for uneven keyboards."""
    found = transcription.candidates([one])
    exact = {
        transcription.MIRRORED,
        transcription.EXCHANGED,
        transcription.PAIRS,
        transcription.CHARACTER,
        transcription.NEIGHBOUR,
    }
    for values, kind in zip(found.values[0][found.there[0]], found.kind[found.there[0]], strict=True):
        if kind in exact:
            assert transcription.relations([transcription.text(values)], [one])[0]
    assert bool(transcription.relations([one], [other])[0]) == bool(transcription.relations([other], [one])[0]) or (
        "latitude" in transcription.relations([one], [other])[0] + transcription.relations([other], [one])[0]
    )


def test_mirrors_are_those_of_the_globe():
    (lon,), (lat,) = places.centre(["IO51es"])
    south, west = (
        str(places.from_position(lon, -lat)[0]),
        str(places.from_position(-lon, lat)[0]),
    )
    assert (
        transcription.relations(["IO51es", "IO51es"], [south, west]).tolist()
        == [transcription.CODES[transcription.MIRRORED]] * 2
    )


def test_latitude_taken_for_longitude_leads_back_to_two_cells():
    """The cell is wider than high in degrees, so one of two cells, one above the other, was meant."""
    (lon,), (lat,) = places.centre(["JO62qm"])
    wrong = str(places.from_position(lat, lon)[0])
    found = transcription.candidates([wrong])
    turned = {transcription.text(v) for v in found.values[0][found.there[0] & (found.kind == transcription.TURNED)]}
    assert "JO62qm" in turned and len({name[:5] for name in turned if name.startswith("JO62q")}) == 1


@given(locators)
def test_both_cells_that_may_have_been_meant_lie_around_the_position_read_the_other_way(wrong):
    ((values, _, good),) = transcription._turns(transcription.numbers(wrong)[None])
    (wrong_lon,), (wrong_lat,) = places.centre([wrong])
    lon, lat = transcription.centres(values[good])
    assert lon == pytest.approx([lon[0]] * 2 if len(lon) else []) and np.abs(lon - wrong_lat) == pytest.approx(1 / 48)
    assert lat - wrong_lon == pytest.approx(np.array([-1, 1] if len(lat) else []) / 48)


def test_of_a_square_only_the_square_is_varied():
    found = transcription.candidates(["JN58"])
    names = {transcription.text(values, "JN58") for values in found.values[0][found.there[0]]}
    assert {"HN58", "NJ58", "JN85"} <= names and all(len(name) == 4 for name in names)
    assert (
        found.there[0, np.isin(found.kind, [transcription.NEIGHBOUR, transcription.CHARACTER])].sum() == 17 + 17 + 9 + 9
    )


# Which keys touch which on the three keyboards, as they are drawn everywhere: the two beside, the two above, the two below.
QWERTY = (
    "Q:WA W:QEAS E:WRSD R:ETDF T:RYFG Y:TUGH U:YIHJ I:UOJK O:IPKL P:OL A:QWSZ S:WEADZX D:ERSFXC F:RTDGCV G:TYFHVB H:YUGJBN "
    "J:UIHKNM K:IOJLM L:OPK Z:ASX X:SDZC C:DFXV V:FGCB B:GHVN N:HJBM M:JKN"
)
AZERTY = (
    "A:ZQ Z:AEQS E:ZRSD R:ETDF T:RYFG Y:TUGH U:YIHJ I:UOJK O:IPKL P:OLM Q:AZSW S:ZEQDWX D:ERSFXC F:RTDGCV G:TYFHVB H:YUGJBN "
    "J:UIHKN K:IOJL L:OPKM M:PL W:QSX X:SDWC C:DFXV V:FGCB B:GHVN N:HJB"
)
QWERTZ = QWERTY.translate(str.maketrans("YZ", "ZY"))
ROW_OF_DIGITS = "1:2 2:13 3:24 4:35 5:46 6:57 7:68 8:79 9:80 0:9"
NUMBER_PAD = "7:84 8:795 9:86 4:751 5:4682 6:593 1:420 2:153 3:62 0:1"


@pytest.mark.parametrize(
    ("letters", "keys", "boards"),
    [(True, letters, (QWERTY, QWERTZ, AZERTY)), (False, "0123456789", (ROW_OF_DIGITS, NUMBER_PAD))],
)
def test_neighbouring_keys_are_those_of_the_keyboards(letters, keys, boards):
    touching = {tuple(each.split(":")) for board in boards for each in board.split()}
    expected = [[any(a == one and b in its for one, its in touching) for b in keys] for a in keys]
    assert transcription._near(letters).tolist() == expected


def test_the_kinds_share_all_there_is():
    """Each is as common as its share of all, whatever the locator, and divided evenly among its candidates."""
    assert sum(transcription.KINDS.values()) == pytest.approx(1)
    for name in ("JN58td", "JN58", "IO55aa", "QA09xa"):
        found = transcription.candidates([name])
        share = np.exp(found.log_prior()[0])
        for number, (kind, its) in enumerate(transcription.KINDS.items()):
            mine = found.there[0] & (found.kind == number)
            assert share[mine] == pytest.approx(its / max(mine.sum(), 1)), (name, kind)
        assert not share[~found.there[0]].any()


@given(locators)
def test_the_three_mirrors_are_those_of_the_globe(name):
    """South for north, west for east, and both: the cell is as far on the other side of the equator and of Greenwich."""
    (lon,), (lat,) = places.centre([name])
    found = transcription.candidates([name])
    mirrors = found.values[0][found.there[0] & (found.kind == transcription.MIRRORED)]
    expected = {str(places.from_position(*at)[0]) for at in ((lon, -lat), (-lon, lat), (-lon, -lat))}
    assert {transcription.text(values) for values in mirrors} == expected


@pytest.mark.parametrize(("lon_deg", "leads"), [(89.96, True), (90.04, False), (-89.96, True), (-90.04, False)])
def test_a_longitude_is_a_latitude_up_to_the_pole(lon_deg, leads):
    found = transcription.candidates([str(places.from_position(lon_deg, 10.02)[0])])
    assert found.there[0, found.kind == transcription.TURNED].sum() == 1 + 2 * leads  # the pairs turned are one more


def test_the_pairs_at_the_ends_are_exchanged_where_a_field_comes_of_it():
    """R is the last letter of a field, X that of a subsquare."""
    for name, leads in (("JN58rr", True), ("JN58rs", False), ("JN58sr", False), ("JN58", False)):
        found = transcription.candidates([name])
        assert found.there[0, found.kind == transcription.PAIRS].tolist() == [leads], name
