"""Throw fuzzed exports at the reader, in this process, and count what came of them.

    python -m tests.hardening.fuzz [cases] [seed] [judge every] [first case]

The cases of a seed are numbered; a run that was stopped goes on where the first case is given. A case is a small export in one
of many shapes, bent one to four times: bits and bytes flipped, marks and odd numbers put in, pieces cut, doubled, exchanged,
the whole in another encoding or packed. Of each case it is asked that the fast and the careful reader say the same where both
read it, and that no line is lost or read twice; every so many cases (all of them where 1 is given) the whole way is taken as
well, from the bytes through `reach.read` and `reach.vet`, which may end in a `ReachError` that is fit for a terminal, or in a
table whose rows are all accounted for. Anything else is printed and counted.
"""

from __future__ import annotations

import csv
import gzip
import random
import sys
import tempfile
import traceback
import warnings
import zlib
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

import pyarrow as pa

import reach
from reach.base import text as texts
from reach.errors import ReachError
from reach.read import encoding, rows

NOW = datetime(2026, 11, 1, tzinfo=UTC)
LONGEST_SENTENCE = 2000
HEADER = ["time", "callsign", "locator", "snr", "frequency", "remarks"]
ROWS = [
    ["2026-05-16 18:02", "F8QRE", "JN12ks", "-15", "14.087", "plain"],
    ["2026-05-16 18:02", "IK3QTZ", "JN55bg", "-25", "14.087", "a, b"],
    ["2026-05-16 18:04", "M1QUP", "IO92sa", "+3", "14.087", 'the "second" one'],
    ["2026-05-16 18:06", "KC2QTB/P", "FN02nr", "-18", "14.087", "two\nlines"],
    ["2026-05-16 18:06", "F8QRE", "JN12ks", "-17", "14.087", "Z\u00fcrich"],
    ["2026-05-16 18:08", "DL3QSA", "JO62", "-9", "14.087", ""],
]
PIECES = [
    '"', '""', "'", ",", ";", "\t", "|", "\n", "\r\n", "\r", "\n\n", " ", "\ufeff", "\0", "\x1b[31m", "\u202e", "\u2028", "\x85", "\x0b",
    "\x1a", "\xa0", "=1+1", "-" + "9" * 400, "1e308", "nan", "1,2,-" + "9" * 400, "2026-02-30", "9999-12-31 24:00", "IO51es", "EI4QTB",
    "# remark\n", "Total,,,,,6\n", "time,callsign,locator,snr,frequency,remarks\n", "x" * 300, "<script>", "\u0661\u0662", "\U0001f4fb",
]  # fmt: skip
Bend = Callable[[random.Random, bytes], bytes]


def export(rng: random.Random) -> bytes:
    """A sound export in one of many shapes."""
    mark, end = rng.choice(",,;\t|"), rng.choice(["\n", "\n", "\r\n", "\r"])
    told = rng.sample(ROWS, rng.randint(1, len(ROWS)))
    quoted = rng.choice([csv.QUOTE_MINIMAL, csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
    out: list[str] = []
    sink = type("Sink", (), {"write": staticmethod(out.append)})
    plain = [row for row in told if "\n" not in row[5] and '"' not in row[5]] if rng.random() < 0.5 else told
    csv.writer(sink, delimiter=mark, lineterminator=end, quoting=quoted).writerows([HEADER, *plain])
    return "".join(out).encode()


def _flip_bit(rng: random.Random, data: bytes) -> bytes:
    at = rng.randrange(len(data))
    return data[:at] + bytes([data[at] ^ 1 << rng.randrange(8)]) + data[at + 1 :]


def _byte(rng: random.Random, data: bytes) -> bytes:
    at = rng.randrange(len(data))
    return data[:at] + rng.randbytes(1) + data[at + 1 :]


def _insert(rng: random.Random, data: bytes) -> bytes:
    at = rng.choice([rng.randrange(len(data)), rng.randrange(len(data)), 0, len(data)])
    return data[:at] + rng.choice(PIECES).encode() + data[at:]


def _at_an_edge(rng: random.Random, data: bytes) -> bytes:
    """A piece beside a mark or at the end of a line, where it may begin or end a cell."""
    edges = [k for k, byte in enumerate(data) if byte in b",;\t|\r\n"]
    at = rng.choice(edges or [0]) + rng.randint(0, 1)
    return data[:at] + rng.choice(PIECES[:12]).encode() + data[at:]


def _cut(rng: random.Random, data: bytes) -> bytes:
    start, end = sorted(rng.randrange(len(data) + 1) for _ in range(2))
    return data[:start] + data[min(end, start + 40) :]


def _double(rng: random.Random, data: bytes) -> bytes:
    start, end = sorted(rng.randrange(len(data) + 1) for _ in range(2))
    return data[:end] + data[start:end] + data[end:]


def _end(rng: random.Random, data: bytes) -> bytes:
    return data[: rng.randrange(1, len(data) + 1)]


def _exchange(rng: random.Random, data: bytes) -> bytes:
    lines = data.splitlines(keepends=True)
    rng.shuffle(lines)
    return b"".join(lines)


def _recode(rng: random.Random, data: bytes) -> bytes:
    to = rng.choice(["utf-8-sig", "utf-16", "utf-16-le", "utf-32", "cp1252", "cp932", "koi8-r"])
    return data.decode("utf-8", "replace").encode(to, "replace")


def _pack(rng: random.Random, data: bytes) -> bytes:
    return gzip.compress(data, 1) if rng.random() < 0.8 else zlib.compress(data)


BENDS: list[Bend] = [_flip_bit, _byte, _insert, _insert, _at_an_edge, _at_an_edge, _cut, _double, _end, _exchange]
LAST: list[Bend] = [_recode, _pack]


def case(number: int, seed: int) -> bytes:
    """The file of a case."""
    rng = random.Random(f"{seed} {number}")
    data = export(rng)
    for _ in range(rng.randint(1, 4)):
        data = rng.choice(BENDS)(rng, data) or b" "
    return rng.choice(LAST)(rng, data) if rng.random() < 0.1 else data


# --- what is asked of each ---------------------------------------------------------------------------------------------


def both_ways(data: bytes) -> str:
    """What the two readers do wrong with a text, or ""."""
    text = encoding.text(pa.py_buffer(data)).utf8
    width = 1 + max((line.count(",") for line in data.decode("utf-8", "replace").split("\n")[:3]), default=0)
    how = (text, ",", {f"c{k}": k for k in range(min(width, 6))}, width, 0)
    (careful, _), fast = rows._careful(*how), rows._fast(*how)
    if fast is not None and told(fast) != told(careful):
        return f"readers apart: {told(fast)} and {told(careful)}"
    return lost_lines(text.to_pybytes().decode("utf-8", "replace"), careful.line.tolist())


def told(found: rows.Rows) -> object:
    cells = {name: [column.words[code] for code in column.codes] for name, column in found.columns.items()}
    return cells, found.line.tolist(), found.faults


def lost_lines(text: str, starts: Sequence[int]) -> str:
    """Lines that are in no row: every line that is not blank begins a row, or belongs to a quoted cell that one began."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if list(starts) != sorted(set(starts)):
        return f"a line is read twice: {starts}"
    for start, beyond in zip([0, *starts], [*starts, len(lines) + 1], strict=True):
        between = range(start + 1, beyond)
        more = [
            number for number in between if lines[number - 1].strip(' \t\x0b\x0c\x1c\x1d\x1e\x1f\x85\xa0\u2028\u3000"')
        ]
        if not more:
            continue
        if not start:
            return f"lines lost: {more}"
        try:
            # The csv module at its strictest makes one record of them. Blank lines behind it are none of its.
            held = list(csv.reader([f"{line}\n" for line in lines[start - 1 : more[-1]]], strict=True))
        except csv.Error:
            held = []
        if sum(any(cell.strip() for cell in record) for record in held) != 1:
            return f"lines lost: {more}"
    return ""


def whole_way(path: Path, data: bytes) -> str:
    """What goes wrong from the bytes to the ledger, or ""."""
    path.write_bytes(data)
    try:
        raw = reach.read(path)
        vetted = reach.vet(raw, now=NOW)
    except ReachError as error:
        sentence = str(error)
        fit = all(map(texts.is_clean, sentence.split("\n"))) and len(sentence) <= LONGEST_SENTENCE * (
            1 + sentence.count("\n")
        )
        return "" if fit else f"no sentence for a terminal: {sentence[:200]!r}"
    counts = vetted.counts
    if not len(raw) == counts.read == counts.accepted + counts.rejected + counts.duplicates:
        return f"rows lost: {counts}"
    if raw["line"].duplicated().any():
        return "a row is counted twice"
    return ""


def main(cases: int = 1000, seed: int = 1, judge_every: int = 1, first: int = 0) -> None:
    warnings.simplefilter("error")
    pa.set_cpu_count(1)  # threads for files of six lines cost more than the reading
    ends: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "spots.csv"
        for number in range(first, first + cases):
            data = case(number, seed)
            judged = number % judge_every == 0
            try:
                wrong = both_ways(data) or (whole_way(path, data) if judged else "")
            except Exception:
                wrong = f"unexpected: {traceback.format_exc()[-700:]}"
            ends["cases"] += 1
            ends["whole way"] += judged
            if wrong:
                ends[wrong.split(":")[0]] += 1
                print(f"{number}: {data!r}\n    {wrong}", flush=True)
            if number % 10_000 == 9_999:
                print(dict(ends), flush=True)
    print(dict(ends))
    raise SystemExit(set(ends) != {"cases", "whole way"})


if __name__ == "__main__":
    main(*map(int, sys.argv[1:5]))
