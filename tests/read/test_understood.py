"""What is told of a file, and what of it a study can keep and feed back."""

import json
import math
from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest

import reach
from reach.base.ways import Medium
from reach.base.words import TERMINAL
from reach.read.layout import Asked
from reach.read.roles import Own
from reach.read.table import read, read_files
from reach.read.understood import ASSUMPTIONS, Settings, Unclear, zone_of, zone_text
from reach.tell.sentences import understood as sentences

NOW = datetime(2026, 11, 20, tzinfo=UTC)
ROWS = "".join(
    f"0{5 + k % 2}/05/2026;{10 + k}:00;{call};{where};{-10 - k};14,0871\n"
    for k, (call, where) in enumerate(
        [("DL2QTB", "JN58td"), ("OH3QRC", "KP11ub"), ("EA5QUD", "IM98jx"), ("F6QTA", "JN18eu")] * 2
    )
)
HEADER = "Tag;Ortszeit;Wer;Wo;Pegel;QRG\n"


@pytest.fixture
def path(tmp_path):
    (tmp_path / "a.csv").write_text(HEADER + ROWS, encoding="utf-8")
    return tmp_path / "a.csv"


def test_questions_of_all_files_are_one_error(path, tmp_path):
    (tmp_path / "b.csv").write_text(HEADER + ROWS.replace("/05/", "/06/"), encoding="utf-8")
    with pytest.raises(Unclear) as error:
        read(path, tmp_path / "b.csv", asked=Asked(now=NOW))
    assert [(q.source, q.code) for q in error.value.questions] == [("a.csv", "zone"), ("b.csv", "zone")]
    assert str(error.value).count("\n") == len(error.value.questions) - 1
    assert isinstance(error.value, reach.ReachError)


def test_a_header_that_its_column_does_not_keep_is_named_and_can_be_taken_all_the_same(tmp_path):
    junk = "".join(f"see note {k};DL2QTB;JN58td;-{10 + k % 9};20m\n" for k in range(60))
    (tmp_path / "a.csv").write_text(
        f"time_utc;callsign;locator;snr_db;band\n{junk}2026-05-16 20:04;DL2QTB;JN58td;-9;20m\n", encoding="utf-8"
    )
    with pytest.raises(Unclear) as error:
        read(tmp_path / "a.csv", asked=Asked(now=NOW))
    assert error.value.said(Medium.OPTION) == (
        "a.csv: 'time_utc' is called the time, but most of what it holds is none (it begins with 'see note 0'); say that it is "
        "with --column time=time_utc, or which other one is with --column time=HEADER."
    )
    table = read(tmp_path / "a.csv", asked=Asked(Settings({"time": "time_utc"}, None, None), now=NOW))
    assert table["time_utc"].astype(object).tolist()[-1] == "2026-05-16 20:04" and len(table) == 61


def test_what_a_user_confirmed_is_asked_once(path):
    asked = Asked(Settings({"snr": "Pegel"}, True, 120), now=NOW)
    raw, (file,) = read_files(path, asked=asked)
    kept = json.loads(json.dumps(file.understood.to_dict()))["settings"]
    assert kept["zone"] == "+02:00" and kept["day_first"] is True and kept["columns"]["snr"] == "Pegel"
    again, (second,) = read_files(
        path,
        asked=Asked(by_file={"a.csv": Settings(kept["columns"], kept["day_first"], zone_of(kept["zone"]))}, now=NOW),
    )
    pd.testing.assert_frame_equal(raw, again)
    assert {column.sure for column in second.understood.columns} == {"confirmed"}


def test_settings_of_one_file_go_before_those_of_all(path):
    asked = Asked(Settings({}, False, 0), {"a.csv": Settings({}, True, 60)}, now=NOW)
    _, (file,) = read_files(path, asked=asked)
    assert file.understood.confirmed().to_dict() == file.understood.to_dict()["settings"]
    assert (file.understood.settings.day_first, file.understood.settings.zone) == (True, 60)


@pytest.mark.parametrize(("text", "minutes"), [("+01:00", 60), ("-03:30", -210), ("UTC+2", 120), ("Z", 0)])
def test_zones_as_text(text, minutes):
    assert zone_of(text) == minutes and zone_of(zone_text(minutes)) == minutes


def test_a_zone_that_is_none():
    with pytest.raises(ValueError, match="'Mars' names no zone; one such as \\+01:00"):
        zone_of("Mars")


def test_lines_say_each_column_what_was_assumed_and_what_is_no_report(tmp_path):
    rows = "".join(f"2026-09-12 1{k}:00;DL2QTB;JN58td;{-10 - k};14,0871;ok\n" for k in range(8))
    text = "Reports\n\nTime;Who;Where;dB;MHz;Remarks\n" + rows + "Total;8;;;;\n"
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    raw, (file,) = read_files(tmp_path / "a.csv", asked=Asked(now=NOW))
    lines = sentences.lines(file.understood, TERMINAL)
    assert lines[0] == "a.csv: 9 rows; semicolons between cells, UTF-8, header on line 3."
    assert [line.split()[0] for line in lines[1:6]] == ["Time", "Who", "Where", "dB", "MHz"]
    assert lines[6:] == [
        "  No zone is named; times are taken as UTC.",
        "  1 title or remark, 1 total: lines that are no report.",
        "  Not used: 'Remarks'.",
    ]
    assert raw["fault"].tolist()[-1] == "row-total"


def test_there_is_a_sentence_for_every_code():
    assert set(sentences._ASSUMED) == set(ASSUMPTIONS)


def test_columns_line_up_where_letters_are_wide(tmp_path):
    rows = "".join(f"2026-09-12 1{k}:00,DL2QTB,JN58td,{-10 - k},14.0871\n" for k in range(8))
    (tmp_path / "a.csv").write_text("日時,受信局,グリッド,信号,MHz\n" + rows, encoding="cp932")
    _, (file,) = read_files(tmp_path / "a.csv", asked=Asked(now=NOW))
    starts = {
        sentences._width(line[: line.index(row[1])])
        for line, row in zip(
            sentences.lines(file.understood, TERMINAL)[1:], sentences.table(file.understood), strict=False
        )
    }
    assert len(starts) == 1 and file.understood.encoding == "cp932"


def heard_and_sent(rng, tmp_path):
    """A file without words: reports of this station, and more of what it heard, in one table."""
    rows = []
    for slot in range(60):
        time, own_hz = f"2026-09-12 {10 + slot // 30}:{2 * slot % 60:02}", 14_087_100 + int(rng.integers(0, 4))
        for k in range(3):
            rows.append(
                (time, "EI4QRA", f"DL{k + 1}QT{chr(65 + slot % 26)}", own_hz + int(rng.integers(-5, 6)), -12 - k)
            )
            rows.append(
                (time, f"G{k + 1}QR{chr(65 + slot % 26)}", "EI4QRA", 14_087_000 + int(rng.integers(0, 200)), -15 - k)
            )
    text = "\n".join(f"{t};{a};{b};JN58td;{hz / 1e6:.6f};{snr}" for t, a, b, hz, snr in rows)
    (tmp_path / "mixed.csv").write_text("t;a;b;c;d;e\n" + text + "\n", encoding="utf-8")
    return tmp_path / "mixed.csv"


def test_one_signal_has_one_frequency(tmp_path):
    path = heard_and_sent(np.random.default_rng(1), tmp_path)
    settings = Settings({"callsign": "b", "transmitter": "a", "locator": "c", "snr": "e"})
    _, (file,) = read_files(path, asked=Asked(settings, own=Own("EI4QRA", "IO51es"), now=NOW))
    found = file.understood.direction
    assert not found.said and found.s_tx_hz < 25 and found.s_rx_hz > 45 and found.slots == (60, 60)
    turned = Settings({"callsign": "a", "transmitter": "b", "locator": "c", "snr": "e"})
    _, (file,) = read_files(path, asked=Asked(turned, own=Own("EI4QRA", "IO51es"), now=NOW))
    assert file.understood.direction.s_tx_hz > 45 and file.understood.direction.s_rx_hz < 25


def test_without_a_callsign_the_direction_cannot_be_tested(tmp_path):
    path = heard_and_sent(np.random.default_rng(1), tmp_path)
    settings = Settings({"callsign": "b", "transmitter": "a", "locator": "c", "snr": "e"})
    _, (file,) = read_files(path, asked=Asked(settings, now=NOW))
    assert math.isnan(file.understood.direction.s_tx_hz)
