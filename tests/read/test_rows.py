"""Rows: the fast way and the careful way agree, line numbers are true, no line is lost."""

import csv
import io

import pyarrow as pa
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from reach.read import rows

PLACE = {"rx_call": 0, "snr_db": 2}
WIDTH = 4


def take(text, how=rows.take, **more):
    settings = {"delimiter": ",", "place": PLACE, "width": WIDTH, "header_lines": 0} | more
    return how(pa.py_buffer(text.encode()), **settings)


def fast(text):
    return rows._fast(pa.py_buffer(text.encode()), ",", PLACE, WIDTH, 0)


def careful(text):
    return rows._careful(pa.py_buffer(text.encode()), ",", PLACE, WIDTH, 0)[0]


def in_pieces(text, size):
    """The rows of a text cut into pieces of at least so many bytes, each with what comes behind it."""
    data, start, before, found = text.encode(), 0, 0, []
    while start < len(data):
        end = next((k + 1 for k in range(start + size - 1, len(data)) if data[k] == 10), len(data))
        some, used, lines = rows.take_some(
            pa.py_buffer(data[start:]), end - start, delimiter=",", place=PLACE, width=WIDTH, before=before
        )
        found += plain(some)
        start, before = start + used, before + lines
    return found


def plain(found):
    """Rows as (line, cells by column, fault)."""
    columns = {name: [column.words[code] for code in column.codes] for name, column in found.columns.items()}
    return [
        (int(line), {name: cells[k] for name, cells in columns.items()}, found.faults.get(k, ""))
        for k, line in enumerate(found.line)
    ]


def test_every_line_a_row_takes_the_fast_way():
    text = 'a,1,-12,x\nb,2,"+3",y\r\nc,3,,z'
    assert fast(text) is not None
    assert plain(take(text)) == [
        (1, {"rx_call": "a", "snr_db": "-12"}, ""),
        (2, {"rx_call": "b", "snr_db": "+3"}, ""),
        (3, {"rx_call": "c", "snr_db": ""}, ""),
    ]


@pytest.mark.parametrize("end", ["", "\n", "\r\n", "\n\n\n"])
def test_blank_lines_at_the_end_do_no_harm(end):
    assert fast(f"a,1,2,3\nb,1,2,3{end}") is not None
    assert [line for line, *_ in plain(take(f"a,1,2,3\nb,1,2,3{end}"))] == [1, 2]


def test_the_line_is_where_a_row_starts_also_after_quoted_newlines_and_blank_lines():
    text = 'a,1,-1,"two\nlines"\n\nb,1,-2,x\nc,1,-3,"a ""quoted""\r\n\r\nword"\n  \nd,1,-4,x\n'
    assert fast(text) is None
    assert [(line, cells["rx_call"], cells["snr_db"], fault) for line, cells, fault in plain(take(text))] == [
        (1, "a", "-1", ""),
        (4, "b", "-2", ""),
        (5, "c", "-3", ""),
        (9, "d", "-4", ""),
    ]


def test_lines_before_the_first_row_are_counted():
    text = "# remark\r\nname,x,snr,y\r\na,1,-1,x\r\n"
    assert [line for line, *_ in plain(take(text, header_lines=2))] == [3]
    assert plain(take(text, header_lines=3)) == []


@pytest.mark.parametrize("text", ["a,1,-1,x\rb,1,-2,x\r", "a,1,-1,x\r\n\rb,1,-2,x"])
def test_a_carriage_return_alone_ends_a_line_too(text):
    assert [cells["rx_call"] for _, cells, _ in plain(take(text))] == ["a", "b"]
    assert plain(take(f"head\r{text}", header_lines=1))[0][0] == 2


@pytest.mark.parametrize("cells", ["a", "a,1", "a,1,-1", "a,1,-1,x,more"])
def test_a_row_of_another_width_is_kept_with_its_line(cells):
    found = plain(take(f"first,1,-1,x\n{cells}\nlast,1,-3,x\n"))
    count = cells.count(",") + 1
    assert [(line, fault) for line, _, fault in found] == [
        (1, ""),
        (2, f"row-length {count} 4"),
        (3, ""),
    ]
    assert found[1][1]["rx_call"] == "a"


@pytest.mark.parametrize("text", ['""', "a\n\xa0\nb", "a\nb"])
def test_of_one_column_only_the_careful_way_tells_blank_lines_from_cells(text):
    assert rows._fast(pa.py_buffer(text.encode()), ",", {"rx_call": 0}, 1, 0) is None


def test_blank_cells_too_many_are_no_fault():
    assert [fault for *_, fault in plain(take("a,1,-1,x,\nb,1,-2,x, ,\n"))] == ["", ""]


def test_a_row_of_blank_cells_is_a_row():
    assert plain(take(",,,\na,1,-1,x\n"))[0] == (1, {"rx_call": "", "snr_db": ""}, "")


def test_a_row_of_another_width_may_run_over_several_lines():
    found = plain(take('a,1,"two\nlines"\n"b","1","-2","x"\n'))
    assert [(line, cells["rx_call"], bool(fault)) for line, cells, fault in found] == [(1, "a", True), (3, "b", False)]


@pytest.mark.parametrize(
    "text",
    [
        'a,1,-1,x\nb,"1,-2,x\nc,1,-3,"\nd,1,-4,x\n',
        'a,1,-1,x\n"b,1,-2,x\nc,1,-3,x\nd,1,-4,x\n',
        'a,1,-1,x\nb,1,-2,"x\nc,1,-3,x\nd,1,-4,x',
        'a,1,-1,x\n"b,1,-2,x\nc,1,-3,"x\nd,1,-4,x\n',  # the stray quote meets another one
    ],
)
def test_a_quote_that_is_never_closed_costs_its_own_line_only(text):
    found = plain(take(text))
    assert [line for line, *_ in found] == [1, 2, 3, 4]
    assert found[1][2] == "row-quote"
    assert [cells["rx_call"] for _, cells, fault in found if not fault][:1] == ["a"]
    assert found[3][1:] == ({"rx_call": "d", "snr_db": "-4"}, "")


def test_a_quote_that_closes_in_the_middle_of_a_cell_closes_nothing():
    found = plain(take('a,"1\nb"x,-1,x\nc,1,-3,x\n'))
    assert [(line, fault.partition(" ")[0]) for line, _, fault in found] == [
        (1, "row-quote"),
        (2, "row-length"),
        (3, ""),
    ]


def test_a_quote_inside_a_cell_is_a_character():
    assert [fault for *_, fault in plain(take('a,1,-1,5" wire\nb,1,-2,6" wire\n'))] == ["", ""]


def test_a_cell_of_many_lines_is_given_up_within_reason():
    lines = "\n".join(["x"] * (rows.LONGEST_CELL + 5))
    found = plain(take(f'a,1,-1,"{lines}"\nb,1,-2,x\n'))
    assert found[0][2].startswith("row-quote")
    assert found[-1][1]["rx_call"] == "b"
    assert len(found) == len(lines.split("\n")) + 1


def test_a_cell_beyond_the_limit_of_the_csv_module_is_a_faulty_row():
    usual = csv.field_size_limit(1000)  # it stands at two gigabytes
    try:
        found = plain(careful(f"a,1,-1,x\nb,1,-2,{'y' * 1001}\nc,1,-3,x\n"))
    finally:
        csv.field_size_limit(usual)
    assert [(line, bool(fault)) for line, _, fault in found] == [(1, False), (2, True), (3, False)]


CELL = st.text(st.sampled_from('ab1-, "\n\r;é'), max_size=6)


@given(st.lists(st.lists(CELL, min_size=WIDTH, max_size=WIDTH), max_size=8), st.sampled_from(["\n", "\r\n"]))
def test_what_a_csv_writer_wrote_comes_back_whole(table, end):
    out = io.StringIO(newline="")
    lone = any("\r" in cell for row in table for cell in row)  # which the writer of Python 3.11 does not quote unasked
    writer = csv.writer(out, lineterminator=end, quoting=csv.QUOTE_ALL if lone else csv.QUOTE_MINIMAL)
    starts, line = [], 1
    for row in table:
        starts.append(line)
        before = out.tell()
        writer.writerow(row)
        out.seek(before)
        # Lines as every text editor counts them: LF, CR and CR LF each end one.
        line += len(io.StringIO(out.read(), newline=None).readlines())
    found = plain(take(out.getvalue()))
    wanted = [
        (start, {"rx_call": tidy(row[0]), "snr_db": tidy(row[2])}, "") for start, row in zip(starts, table, strict=True)
    ]
    assert found == wanted


def tidy(cell):
    return cell.replace("\r\n", "\n").replace("\r", "\n")


LINE = st.text(st.sampled_from('ab12,,,," '), max_size=14)


@given(st.lists(st.one_of(LINE, st.just("a,b,1,2"), st.just('"a","b","1","2"')), max_size=12))
@example(["a,b,1,2", "", '"a', 'b",b,1,2'])
@example(['a,b,1,"2', '3"', "", "x,y,z,w"])
def test_the_two_ways_agree_where_both_can_go(lines):
    text = "\n".join(lines)
    quick = fast(text)
    if quick is not None:
        assert plain(quick) == plain(careful(text))


@given(st.lists(st.one_of(st.just("a,b,1,2"), st.just('"a","b","1","two\nlines"'), LINE), min_size=5, max_size=20))
@example(["a,b,1,2"] * 3 + ['a,b,1,"x', 'c,d,1,y"'])
@example(['"a",b,1,2'] * 2 + ['a,b,1,"x'] + ["a,b,1,2"] * 4)
@example(['"a",b,1,2'] * 3 + ["\ufeffa,b,1,2"] + ["a,b,1,2"] * 4)
def test_a_file_that_is_read_in_blocks_is_no_other(lines):
    """A block may end in a quoted cell. The blocks are smaller here than for real files."""
    text = "\n".join(lines)
    for size in (20, 33, 47):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(rows, "_BLOCK", size)
            quick = fast(text)
        if quick is not None:
            assert plain(quick) == plain(careful(text))


def test_blocks_take_the_fast_way_too(monkeypatch):
    monkeypatch.setattr(rows, "_BLOCK", 20)
    text = "".join(f'"{k}","b",1,2{end}' for k in range(9) for end in ("\n", "\r\n"))
    assert plain(fast(text)) == plain(careful(text))


@given(
    st.lists(st.one_of(st.just("a,b,1,2"), st.just('"a","b","1","two\nlines"'), LINE), max_size=20),
    st.sampled_from(["\n", "\r\n", "\n\n", "\r"]),
    st.booleans(),
    st.integers(1, 60),
)
@example(["a,b,1,2", 'a,"b', "c,d", '1",1,2', "a,b,1,2"], "\n", True, 14)
@example(["a,b,1,2", '"a', 'b","c",1,2'], "\n", False, 10)
def test_pieces_of_any_size_give_the_rows_of_the_whole(lines, end, ended, size):
    text = end.join(lines) + end * ended
    assert in_pieces(text, size) == plain(take(text))


@given(st.text(st.sampled_from('ab1,"\n\r '), max_size=60), st.integers(1, 20))
@example('a,b,"\n' + "x\n" * 120 + '",1,2\n', 5)
def test_pieces_of_any_text_give_the_rows_of_the_whole(text, size):
    assert in_pieces(text, size) == plain(take(text))


@given(st.text(st.sampled_from('ab1,"\n\r '), max_size=60))
def test_no_line_is_lost_and_none_is_read_twice(text):
    """Each line that is not blank is in exactly one row: rows start on rising lines, and what lies between the start
    of a row and the next is either the rest of a quoted cell or blank."""
    found = plain(take(text))
    lines = [line.strip() for line in io.StringIO(text, newline=None)]
    starts = [line for line, *_ in found]
    assert starts == sorted(set(starts))
    for at, line in enumerate(lines, start=1):
        if line.strip(' "') and at not in starts:  # a quoted blank alone on its line says nothing
            before = max(start for start in starts if start < at)
            assert '"' in lines[before - 1]
            fault = {start: fault for start, _, fault in found}[before]
            assert not fault.startswith("row-quote")
