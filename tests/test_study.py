"""Study files: what is accepted, and the one sentence for what is not."""

import re
import tomllib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach import study
from reach.cli import main
from reach.errors import StudyError
from reach.tell import study_file

FULL = """
title = "May"
files = ["evening.csv"]
schedule = "times.csv"
[station]
callsign = "EI4QTB/P"
locator = "IO51es"
power_w = 5
[setups.vertical]
antenna = "quarter wave"
cable = { kind = "RG-58 class", length_m = 12 }
swr = 1.3
[setups.wire]
power_w = 2.5
resistance_ohm = 47.0
reactance_ohm = -8.0
[[sessions]]
setup = "vertical"
start = 2026-05-16T18:00:00Z
end = 2026-05-16T20:10:00+02:00
[compare]
a = "vertical"
b = "wire"
[options]
itu_region = 2
columns = { callsign = "Reporter" }
"""


def load(tmp_path: Path, text: str) -> study.Study:
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    return study.load(path)


def test_a_full_study(tmp_path):
    found = load(tmp_path, FULL)
    assert found.folder == tmp_path
    assert found.power_w("vertical") == 5 and found.power_w("wire") == 2.5 and found.power_w(None) == 5
    assert found.sessions[0].end == datetime(2026, 5, 16, 18, 10, tzinfo=UTC)
    assert found.options.columns == {"callsign": "Reporter"}


def test_times_without_offset_are_utc(tmp_path):
    found = load(tmp_path, '[[sessions]]\nsetup = "a"\nstart = 2026-05-16T18:00:00\n')
    assert found.sessions[0].start == datetime(2026, 5, 16, 18, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[station]\ncalsign = 'X'", "unknown key 'station.calsign'; did you mean 'callsign'?"),
        ("[setups.v.cable]\nlenght_m = 3\nkind = 'x'", "did you mean 'length_m'?"),
        ("[station]\npower_w = -1", "'station.power_w': input should be greater than 0, not -1."),
        ("[station]\npower_w = 0", "greater than 0"),
        ("[setups.v]\nswr = 0.9", "greater than or equal to 1, not 0.9"),
        ("[setups.v]\nswr = 2\nresistance_ohm = 50\nreactance_ohm = 0", "give either `swr` or"),
        ("[setups.v]\nresistance_ohm = 50", "go together"),
        ("[setups.v.bands.40m]\nresistance_ohm = 50", "go together"),
        ("[setups.v.bands.41m]\nswr = 2", "a band is called by its wavelength"),
        ("[setups.v.bands.40m]\nsrw = 2", "did you mean 'swr'?"),
        ("[setups.v.cable]\nlength_m = 3", "give either `kind` or"),
        ("[setups.v.cable]\nlength_m = 3\nloss_db_per_100m = 4", "`loss_at_mhz` go together"),
        ("[[sessions]]\nsetup = 'v'", "needs `start` and `end`, or `files`"),
        ("[[sessions]]\nsetup = 'v'\nstart = 2026-05-02T00:00:00Z\nend = 2026-05-01T00:00:00Z", "is not before"),
        ("[setups.v]\n[compare]\na = 'v'\nb = 'w'", "no setup is called 'w'; there are 'v'"),
        ("[compare]\na = 'v'\nb = 'v'", "two different setups"),
        ("[options]\nitu_region = 4", "'options.itu_region'"),
        ("folder = 'x'", "'folder' is not a key"),
        ("title = ", "is not valid TOML"),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(tmp_path, text, says):
    with pytest.raises(StudyError) as error:
        load(tmp_path, text)
    assert says in str(error.value)
    assert "study.toml" in str(error.value) and "\n" not in str(error.value)


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(StudyError, match="No such file"):
        study.load(tmp_path / "none.toml")


def test_bytes_that_are_no_text(tmp_path):
    (tmp_path / "s.toml").write_bytes(b"title = '\xff\xfe'")
    with pytest.raises(StudyError, match="UTF-8"):
        study.load(tmp_path / "s.toml")


# --- writing ----------------------------------------------------------------------------------------------------------

COMMENTED = """\
# Our May evenings
title = "May"   # short
files = [
    "evening.csv",  # the first
    'late.csv',
]

# who
[station]
locator = "IO51es"     # by the chart
callsign = "EI4QTB/P"

[options]
itu_region = 2
# day_first = true

# Which ones:
# [setups.old]
# power_w = 3

[setups."the wire"]   # new
cable = { kind = "RG-58 class", length_m = 12.50 }

[setups.loop]
resistance_ohm = 0x32
reactance_ohm = -8.0

[[sessions]]  # dusk
setup = "loop"
start = 2026-05-16T20:00:00+02:00

[[sessions]]
setup = "the wire"
files = ["late.csv"] # only

# the question
[compare]
a = "loop"
b = "the wire"
# end
"""


def test_a_study_that_was_not_changed_is_written_as_it_was(tmp_path):
    assert study_file.text(load(tmp_path, COMMENTED), beside=tmp_path) == COMMENTED


def test_a_changed_study_keeps_all_but_what_was_changed(tmp_path):
    """Changed values stand where the old ones stood; new keys behind those that their table has, not behind the
    commented examples that follow, which would swallow them once they are opened."""
    asked = study.changed(
        load(tmp_path, COMMENTED),
        title="June",
        schedule="times.csv",
        station={"locator": "IO51et", "power_w": 5.0},
        options={"day_first": False, "columns": {"callsign": "Heard by"}},
    )
    text, expected = study_file.text(asked, beside=tmp_path), COMMENTED
    for old, new in (
        ('title = "May"', 'title = "June"'),
        ("]\n\n# who", ']\nschedule = "times.csv"\n\n# who'),
        ('"IO51es"', '"IO51et"'),
        ('callsign = "EI4QTB/P"\n', 'callsign = "EI4QTB/P"\npower_w = 5.0\n'),
        ("itu_region = 2\n", 'itu_region = 2\nday_first = false\ncolumns = {callsign = "Heard by"}\n'),
    ):
        assert expected.count(old) == 1
        expected = expected.replace(old, new)
    assert text == expected
    assert load(tmp_path, text).model_dump() == asked.model_dump()


def test_a_new_study_opens_the_key_of_corrections(tmp_path):
    text = study_file.text(study.Study(fixes=str(tmp_path / "fixes.csv"), files=["a.csv"]), beside=tmp_path)
    assert f'\nfixes = "{tmp_path / "fixes.csv"}"' in text
    moved = load(tmp_path, 'fixes = "fixes.csv"\n')
    assert 'fixes = "../fixes.csv"' in study_file.text(moved, beside=tmp_path / "studies")


def test_files_are_named_from_the_new_place_with_their_comments(tmp_path):
    found = load(tmp_path, COMMENTED.replace("[compare]", '[compare]\ncontrol = "/all/control.csv"'))
    text = study_file.text(found, beside=tmp_path / "studies")
    assert '    "../evening.csv",  # the first\n' in text and 'files = ["../late.csv"] # only' in text
    assert 'control = "/all/control.csv"' in text
    (tmp_path / "studies").mkdir()
    again = load(tmp_path / "studies", text)
    assert again.files == ["../evening.csv", "../late.csv"] and again.setups == found.setups


def test_a_setup_is_taken_out_and_the_comments_behind_it_stay(tmp_path):
    found = load(tmp_path, COMMENTED.replace('setup = "the wire"', 'setup = "loop"'))
    base = study.changed(found, compare=None)
    asked = study.changed(base, setups={"loop": base.setups["loop"].model_dump()})
    text = study_file.text(asked, beside=tmp_path)
    assert again(text).model_dump() == asked.model_dump()
    assert "the wire" not in text and "# Which ones:\n# [setups.old]\n# power_w = 3\n\n\n[setups.loop]" in text
    both = COMMENTED.replace(
        "reactance_ohm = -8.0\n", "reactance_ohm = -8.0\nbands = { 40m = { swr = 3 } }\n# what follows: dusk\n"
    )
    asked = study.changed(load(tmp_path, both), sessions=[], compare=None, setups={})
    text = study_file.text(asked, beside=tmp_path)
    assert again(text).model_dump() == asked.model_dump()
    assert "# what follows: dusk" in text


@pytest.mark.parametrize("name", ["vertical", "a b", "é", 'q"x', "1.5", ""])
def test_a_setup_is_renamed_wherever_it_is_named(name):
    text = study_file.renamed(COMMENTED, "the wire", name)
    assert text.count("#") == COMMENTED.count("#")
    given = tomllib.loads(COMMENTED)
    given["setups"] = {name: given["setups"]["the wire"], "loop": given["setups"]["loop"]}
    given["sessions"][1]["setup"] = given["compare"]["b"] = name
    assert tomllib.loads(text) == given and list(tomllib.loads(text)["setups"]) == [name, "loop"]
    assert study_file.renamed(text, name, "the wire") == COMMENTED


def test_a_setup_is_renamed_however_it_is_written():
    for text in (
        "setups.a.swr = 2 # x\n",
        "setups = { a = { swr = 2 } } # x\n",
        "[setups . 'a'] # x\nswr = 2\n",
        "[setups]\na.swr = 2 # x\n",
    ):
        found = study_file.renamed(text + '[compare]\nsetups = ["a", "c", "d"]\n', "a", "b")
        assert tomllib.loads(found) == {"setups": {"b": {"swr": 2}}, "compare": {"setups": ["b", "c", "d"]}}
        assert "# x" in found


STRANGE = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
NAMED = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)  # files
POWER = st.one_of(st.none(), st.floats(1e-9, 1e5))


@st.composite
def studies_of_any_kind(draw):
    names = draw(st.lists(STRANGE, unique=True, max_size=3))
    cable = st.builds(study.Cable, kind=STRANGE, length_m=st.floats(0, 1e6))
    match = st.builds(study.Match, swr=st.one_of(st.none(), st.floats(1, 1e5)))
    bands = st.dictionaries(st.sampled_from(["40m", "20m", "160m"]), match, max_size=2)
    setup = st.builds(study.Setup, antenna=STRANGE, power_w=POWER, cable=st.one_of(st.none(), cable), bands=bands)
    moments = st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1), timezones=st.just(UTC))
    session = st.builds(study.Session, name=STRANGE, setup=st.sampled_from(names or ["x"]), start=moments)
    asked: dict[str, object] = {"a": names[0], "b": names[1]} if len(names) > 1 else {}
    if len(names) > 2 and draw(st.booleans()):
        asked = {"setups": names}
    return study.Study(
        title=draw(STRANGE),
        about=draw(STRANGE),
        files=draw(st.lists(NAMED, max_size=3)),
        fixes=draw(st.one_of(st.none(), NAMED)),
        schedule=draw(st.one_of(st.none(), NAMED)),
        station=draw(st.builds(study.Station, callsign=STRANGE, locator=STRANGE, power_w=POWER)),
        options=draw(
            st.builds(
                study.Options,
                itu_region=st.sampled_from([1, 2, 3]),
                day_first=st.sampled_from([None, True, False]),
                columns=st.dictionaries(STRANGE, STRANGE, max_size=2),
            )
        ),
        setups={name: draw(setup) for name in names},
        sessions=draw(st.lists(session, max_size=2)),
        compare=study.Comparison(**asked) if asked and draw(st.booleans()) else None,
    )


def again(text: str) -> study.Study:
    """The text read as a file's would be."""
    return study.check(tomllib.loads(text), source=text)


@given(studies_of_any_kind())
def test_any_study_reads_back_as_it_was(given):
    assert again(study_file.text(given)).model_dump() == given.model_dump()


SCATTERED = """\
station.callsign = 'X' # dotted
options = {} # inline
compare = { a = "a", b = "b" }
[setups.a] # first
[[sessions]] # between
setup = "b"
start = 2026-05-16T18:00:00Z
[setups.b] # second
power_w = 2 # W"""


@given(studies_of_any_kind(), st.sampled_from([COMMENTED, FULL, SCATTERED, ""]))
def test_any_change_reads_back_and_loses_no_comment(given, source):
    """Only comments inside what was taken away go with it: so all values are kept, and others are added."""
    base = again(source)
    asked = base.model_copy(
        update={"title": given.title, "about": given.about, "schedule": given.schedule, "options": given.options,
                "station": given.station, "setups": {**given.setups, **base.setups}, "compare": base.compare}
    )  # fmt: skip
    text = study_file.text(asked)
    assert again(text).model_dump() == asked.model_dump()
    for comment in re.findall("# .*", source):
        assert comment in text


def test_tables_of_one_kind_that_stand_apart_stay_what_they_are():
    """What tomlkit before 0.13.3 got wrong: the second setup took the keys of the session before it."""
    base = again(SCATTERED)
    for station in (type(base.station)(), base.station):
        asked = base.model_copy(update={"station": station, "options": type(base.options)()})
        assert again(study_file.text(asked)).model_dump() == asked.model_dump()


def test_the_command_keeps_comments_and_the_study_itself(tmp_path, capsys):
    (tmp_path / "may.toml").write_text(COMMENTED, encoding="utf-8")
    new = tmp_path / "quiet.toml"
    with pytest.raises(SystemExit) as ended:
        main(["run", str(tmp_path / "may.toml"), "--title", "Quiet", "--write-study", str(new)])
    assert ended.value.code == 0 and str(new) in capsys.readouterr().out
    assert new.read_text(encoding="utf-8") == COMMENTED.replace('"May"', '"Quiet"')
    assert (tmp_path / "may.toml").read_text(encoding="utf-8") == COMMENTED


@given(studies_of_any_kind(), studies_of_any_kind())
def test_any_study_can_be_written_over_any_other(given, other):
    base = again(study_file.text(other))
    asked = base.model_copy(
        update={name: getattr(given, name) for name in type(given).model_fields if name != "source"}
    )
    assert again(study_file.text(asked)).model_dump() == given.model_dump()


def test_a_written_study_reads_back(tmp_path):
    given = study.Study(
        title='May "two"\\\n',
        files=["a/*.csv", "-"],
        station=study.Station(callsign="EI4QTB/P", locator="IO51es", power_w=5),
        options=study.Options(itu_region=3, columns={"callsign": "Heard by"}, day_first=False),
    )
    found = load(tmp_path, study_file.text(given))
    assert found.model_dump() == given.model_dump()


def test_a_written_study_names_files_from_where_it_lies(tmp_path):
    given = study.Study(files=["spots.csv"])
    assert load(tmp_path, study_file.text(given, beside=Path("studies"))).files == ["../spots.csv"]


def test_the_commented_examples_are_a_valid_study(tmp_path):
    text = study_file.text(study.Study())
    keys = ("[", "setup =", "antenna =", "power_w =", "cable =", "swr =", "start =", "end =", "a =", "b =", "file =", "controls =",
            "date =", "done =")  # fmt: skip
    opened = [line[2:] if line.startswith("# ") and line[2:].startswith(keys) else line for line in text.splitlines()]
    found = load(tmp_path, "\n".join(opened))
    assert set(found.setups) == {"vertical", "wire"} and found.compare and found.sessions and found.readings
    assert found.season and found.log[0].swr == 1.3
