"""Delimiter and header, found by what the header says."""

import pytest

from reach.errors import InputError
from reach.read import dialect

NAMES = ("Time", "Callsign", "Locator", "SNR", "QRG (MHz)")
CELLS = ("2026-05-16 20:00", "DL2QTC", "JN58td", "-12,5", "14,0971")


def table(delimiter, *rows):
    """Rows as a spreadsheet writes them: quoted where the delimiter is in a cell."""
    return "".join(delimiter.join(f'"{c}"' if delimiter in c else c for c in row) + "\n" for row in rows)


@pytest.mark.parametrize("delimiter", dialect.DELIMITERS)
def test_each_delimiter_is_found_decimal_commas_or_not(delimiter):
    found = dialect.find(table(delimiter, NAMES, CELLS, CELLS))
    assert found == dialect.Dialect(delimiter, NAMES, 1)


def test_commas_outnumbering_semicolons_do_not_mislead():
    rows = [("2026-05-16 20:00", "DL2QTC", "JN58td", "-1,5", "1,2,3,4,5,6,7,8")] * 5
    assert dialect.find(table(";", NAMES, *rows)).delimiter == ";"


def test_a_header_alone_will_do():
    assert dialect.find("time;callsign;locator;snr;band") == dialect.Dialect(
        ";", ("time", "callsign", "locator", "snr", "band"), 1
    )


@pytest.mark.parametrize(
    ("before", "lines"),
    [
        ("sep=;\n", 2),
        ("# made up, every line of it\n", 2),
        ("\n\n", 3),
        ("Reports of the weekend\n\nStation;EI4QTB/P\n", 4),
        ("Exported;2026-05-30;;;\n", 2),
        ('"A title\nover two lines"\n', 3),
    ],
)
def test_what_stands_before_the_header_is_passed_over(before, lines):
    found = dialect.find(before + table(";", NAMES, CELLS))
    assert (found.headers, found.header_lines) == (NAMES, lines)


def test_a_header_cell_over_two_lines():
    found = dialect.find('time,callsign,locator,"SNR\n(dB)",band\n')
    assert found.headers[3] == "SNR\n(dB)"
    assert found.header_lines == 2


def test_headers_that_the_user_names_count_as_known():
    text = "Quand|Qui|Ou|Force|Bande\n2026-05-16 20:00|DL2QTC|JN58td|-12|20m\n"
    columns = {"time": "Quand", "callsign": "Qui", "locator": "Ou", "snr": "Force", "band": "Bande"}
    assert dialect.find(text, columns).delimiter == "|"


def test_a_foreign_header_is_still_a_header():
    text = "Quand;Qui;Ou;Force;Bande\n2026-05-16 20:00;DL2QTC;JN58td;-12,5;20m\n"
    assert dialect.find(text) == dialect.Dialect(";", ("Quand", "Qui", "Ou", "Force", "Bande"), 1)


@pytest.mark.parametrize(
    ("row", "line"),
    [
        ("2026-05-16 20:00,DL2QTC,JN58td,-12,14.0971", "time,callsign,locator,snr,frequency_mhz"),
        ("2026-05-16;20:00;DL2QTC;JN58td;-12,5;20m", "date;time;callsign;locator;frequency_mhz;band"),
        ("1778961600|DL2QTC|JN58td|-12|14097100", "time|callsign|locator|snr|frequency_hz"),
        (
            "DL2QTC,JN58td,EI4QTB/P,IO51es,-12,5,20m,hello there",
            "callsign,locator,transmitter,transmitter_locator,snr,power,band,column8",
        ),
        ("2026-05-16 20:00\tDL2QTC\tJN58td\t-12\t7040", "time<Tab>callsign<Tab>locator<Tab>snr<Tab>frequency_khz"),
    ],
)
def test_a_file_without_a_header_is_refused_with_the_line_to_write(row, line):
    with pytest.raises(InputError) as error:
        dialect.find(f"{row}\n" * 3, name="spots.csv")
    assert str(error.value) == (
        f"spots.csv: has no header; write a first line that names the columns, for this file perhaps: {line}"
    )


def test_rows_before_the_header_are_never_lost():
    with pytest.raises(InputError, match="has no header"):
        dialect.find(table(",", CELLS, CELLS, NAMES, CELLS))


@pytest.mark.parametrize("text", ["", "\n\n \n", ",,,\n"])
def test_nothing_is_refused(text):
    with pytest.raises(InputError, match=r"spots\.csv: is empty"):
        dialect.find(text, name="spots.csv")
