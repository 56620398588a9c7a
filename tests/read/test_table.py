"""The raw table: text columns by our names, the file and the line, several files, date and time in two columns."""

import hashlib

import pandas as pd
import pytest

import reach
from reach.errors import InputError
from reach.read.table import RAW, read, read_files

HEADER = "Time,Callsign,Locator,SNR,Band,Remarks\n"
ROWS = "2026-05-16 20:00,DL2QTC,JN58td,-12,20m,\n2026-05-16 20:02, f5qsa ,jn18EU,-7 dB,20m,loud\n"


@pytest.fixture
def write(tmp_path):
    def write(name, text, encoding="utf-8"):
        (tmp_path / name).write_bytes(text.encode(encoding))
        return tmp_path / name

    return write


def cells(raw, name):
    return raw[name].astype(object).where(raw[name].notna(), None).tolist()


def test_everything_stays_text(write):
    raw = reach.read(write("may.csv", HEADER + ROWS))
    assert list(raw.columns) == ["time_utc", "rx_call", "rx_locator", "snr_db", "band", "source", "line"]
    assert all(isinstance(raw[name].dtype, pd.CategoricalDtype) for name in raw.columns if name != "line")
    assert cells(raw, "rx_call") == ["DL2QTC", " f5qsa "]
    assert cells(raw, "snr_db") == ["-12", "-7 dB"]
    assert cells(raw, "source") == ["may.csv", "may.csv"]
    assert raw["line"].tolist() == [2, 3]
    assert raw["line"].dtype == "int64"


def test_a_header_alone_gives_no_rows(write):
    raw = read(write("may.csv", HEADER))
    assert len(raw) == 0
    assert list(raw.columns)[-2:] == ["source", "line"]


def test_files_below_each_other_with_the_columns_of_all(write):
    one = write("one.csv", HEADER + ROWS)
    two = write("two.csv", "utc;heard by;grid;report;qrg (kHz);mode\n2026-05-17 06:00;DL2QTC;JN58td;-3;7028,7;X\n")
    raw = read(one, two)
    assert [name for name in raw.columns if name in RAW] == [
        "time_utc", "rx_call", "rx_locator", "snr_db", "band", "freq_khz", "mode",
    ]  # fmt: skip
    assert cells(raw, "source") == ["one.csv", "one.csv", "two.csv"]
    assert raw["line"].tolist() == [2, 3, 2]
    assert cells(raw, "band") == ["20m", "20m", None]
    assert cells(raw, "freq_khz") == [None, None, "7028,7"]
    assert cells(raw, "rx_call") == ["DL2QTC", " f5qsa ", "DL2QTC"]
    assert len(raw["rx_call"].cat.categories) == 2


def test_files_that_say_the_same_words_in_another_order(write):
    rows = ROWS.splitlines(keepends=True)
    raw = read(write("one.csv", HEADER + ROWS), write("two.csv", HEADER + rows[1] + rows[0]))
    assert cells(raw, "snr_db") == ["-12", "-7 dB", "-7 dB", "-12"]


def test_a_faulty_shape_is_told_in_a_column(write):
    raw = read(write("may.csv", HEADER + ROWS + "2026-05-16 20:04,DL2QTC\n"))
    assert cells(raw, "fault") == [None, None, "row-length 2 6"]
    assert cells(raw, "rx_call")[-1] == "DL2QTC"
    both = read(write("sound.csv", HEADER + ROWS), write("may2.csv", HEADER + "x\n"))
    assert cells(both, "fault") == [None, None, "row-length 1 6"]


@pytest.mark.parametrize(
    ("header", "row", "time"),
    [
        ("Date,Time", "2026-05-16,20:00", "2026-05-16 20:00"),
        ("UTC time,Date", "2000, 16.05.2026 ", "16.05.2026 2000"),
        ("Date,Time", "2026-05-16,", "2026-05-16"),
        ("Date,Time", ",20:00", "20:00"),
        ("Date,Time", ",", ""),
        ("Date,Time", "2026-05-16,2026-05-16T20:00Z", "2026-05-16T20:00Z"),
        ("Date,Time", "16/05/2026,16/05/2026 20:00", "16/05/2026 20:00"),
        ("Date,Time", "2026-05-16,1778961600", "1778961600"),
        ("Date,Time", "2026-05-16,20:00:00.1234", "2026-05-16 20:00:00.1234"),
        ("Date,x", "2026-05-16 20:00,x", "2026-05-16 20:00"),
    ],
)
def test_date_and_time_in_two_columns(write, header, row, time):
    raw = read(write("may.csv", f"{header},Callsign,Locator,SNR,Band\n{row},DL2QTC,JN58td,-12,20m\n"))
    assert cells(raw, "time_utc") == [time]
    assert "date" not in raw.columns


def test_pairs_of_date_and_time_that_say_the_same_are_one_word(write):
    rows = "2026-05-16, 20:00,a,JN58td,1,20m\n2026-05-16 ,20:00,b,JN58td,1,20m\n"
    raw = read(write("may.csv", "Date,Time,Callsign,Locator,SNR,Band\n" + rows))
    assert raw["time_utc"].cat.categories.tolist() == ["2026-05-16 20:00"]


def test_columns_named_by_the_user(write):
    text = "Quand;Reporter;Ou;Force;QRG kHz\n2026-05-16 20:00;DL2QTC;JN58td;-12,5;14043,7\n"
    columns = {"time": "Quand", "callsign": "Reporter", "locator": "Ou", "snr": "force", "frequency": "QRG kHz"}
    raw = read(write("may.csv", text), columns=columns)
    assert cells(raw, "freq_khz") == ["14043,7"]
    assert cells(raw, "snr_db") == ["-12,5"]


def test_a_header_named_by_the_user_must_be_in_some_file(write):
    one = write("one.csv", HEADER + ROWS)
    two = write("two.csv", "Time,Who,Locator,SNR,Band\n2026-05-16 20:00,DL2QTC,JN58td,-12,20m\n")
    with pytest.raises(InputError, match=r"one\.csv: no column is headed 'Whom'; the headers are 'Time', 'Callsign'"):
        read(one, two, columns={"callsign": "Whom"})
    assert cells(read(one, two, columns={"callsign": "Who"}), "rx_call") == ["DL2QTC", " f5qsa ", "DL2QTC"]


def test_particulars_of_each_file(write):
    paths = [write("a.csv", HEADER + ROWS), write("b.csv", HEADER, encoding="utf-16")]
    raw, files = read_files(*paths)
    pd.testing.assert_frame_equal(raw, read(*paths))
    assert [(f.name, f.rows, f.unused_headers) for f in files] == [
        ("a.csv", 2, ("Remarks",)),
        ("b.csv", 0, ("Remarks",)),
    ]
    assert [f.sha256 for f in files] == [hashlib.sha256(path.read_bytes()).hexdigest() for path in paths]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "may.csv: is empty"),
        ("Time,Callsign,SNR,Band\n", "may.csv: no column for the receiver's locator"),
        ("Time,UTC,Callsign,Locator,SNR,Band\n", "may.csv: 'Time' and 'UTC' both name the time"),
    ],
)
def test_what_will_not_do(write, text, message):
    with pytest.raises(InputError, match=message.replace(".", r"\.")):
        read(write("may.csv", text))


def test_encodings_and_delimiters_give_the_same_table(write):
    text = HEADER + ROWS
    wanted = read(write("may.csv", text))
    for encoding in ("utf-8-sig", "utf-16", "cp1252"):
        pd.testing.assert_frame_equal(read(write("may.csv", text, encoding)), wanted)
    for delimiter in ";\t|":
        pd.testing.assert_frame_equal(read(write("may.csv", text.replace(",", delimiter))), wanted)
    pd.testing.assert_frame_equal(read(write("may.csv", text.replace("\n", "\r\n"))), wanted)
    pd.testing.assert_frame_equal(read(write("may.csv", text.replace("\n", "\r"))), wanted)
    quoted = "\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in text.splitlines())
    pd.testing.assert_frame_equal(read(write("may.csv", quoted)), wanted)
