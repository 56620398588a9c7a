"""Study files: what is accepted, and the one sentence for what is not."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from reach import study
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
    keys = ("[", "setup =", "antenna =", "power_w =", "cable =", "swr =", "start =", "end =", "a =", "b =")
    opened = [line[2:] if line.startswith("# ") and line[2:].startswith(keys) else line for line in text.splitlines()]
    found = load(tmp_path, "\n".join(opened))
    assert set(found.setups) == {"vertical", "wire"} and found.compare and found.sessions
