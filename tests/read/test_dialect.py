"""Delimiter and header, found by what the header says."""

import pytest

from reach.errors import InputError
from reach.read import dialect

NAMES = ("Time", "Callsign", "Locator", "SNR", "QRG (MHz)")
CELLS = ("2026-05-16 20:00", "DL2QTC", "JN58td", "-12,5", "14,0871")


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
    ("row", "delimiter", "width"),
    [
        ("2026-05-16 20:00,DL2QTC,JN58td,-12,14.0871", ",", 5),
        ("2026-05-16;20:00;DL2QTC;JN58td;-12,5;20m", ";", 6),
        ("1778961600|DL2QTC|JN58td|-12|14087100", "|", 5),
        ("DL2QTC,JN58td,EI4QTB/P,IO51es,-12,5,20m,hello there", ",", 8),
        ("2026-05-16 20:00\tDL2QTC\tJN58td\t-12\t7040", "\t", 5),
        ("2026-05-16 20:00  DL2QTC  JN58td  -12  7040", dialect.BLANKS, 5),
        ("2026-05-16 20:00 DL2QTC JN58td -12 7040", dialect.BLANK, 6),
    ],
)
def test_a_file_without_a_header_is_cut_by_what_it_holds(row, delimiter, width):
    found = dialect.find(f"{row}\n" * 3)
    assert found == dialect.Dialect(delimiter, ("",) * width, 0, headed=False)


def test_rows_before_the_header_are_never_lost():
    found = dialect.find(table(",", CELLS, CELLS, NAMES, CELLS))
    assert (found.headed, found.header_lines) == (False, 0)


@pytest.mark.parametrize(
    ("text", "names", "lines"),
    [
        (
            "Signal,,Receiver,Receiver,\ndB,Time,call,locator,MHz\n",
            ("Signal dB", "Time", "Receiver call", "Receiver locator", "MHz"),
            2,
        ),
        ("Signal,Time,Call,Locator,QRG\ndB,,,,MHz\n", ("Signal dB", "Time", "Call", "Locator", "QRG MHz"), 2),
        ("Made on a Sunday\nForce;Quand;Qui;Ou;Bande\n".replace(";", ","), ("Force", "Quand", "Qui", "Ou", "Bande"), 2),
    ],
)
def test_a_header_of_two_lines_and_one_below_a_title(text, names, lines):
    found = dialect.find(text + "-12,2026-05-16 20:00,DL2QTC,JN58td,14.0871\n" * 3)
    assert (found.headers, found.header_lines) == (names, lines)


def test_a_row_with_a_fault_below_the_header_stays_a_row():
    rows = "2026-05-16 20:00;;;;\n" + "2026-05-16 20:00;DL2QTC;JN58td;-12,5;20m\n" * 3
    assert dialect.find("Quand;Qui;Ou;Force;Bande\n" + rows).header_lines == 1


@pytest.mark.parametrize("text", ["", "\n\n \n", ",,,\n"])
def test_nothing_is_refused(text):
    with pytest.raises(InputError, match=r"spots\.csv: is empty"):
        dialect.find(text, name="spots.csv")
