"""From bytes to text: which encoding a file without a byte order mark is in.

Valid UTF-8 is UTF-8. Of the older encodings nearly every one can read nearly every file, so it is the look of the text
that tells: kana stand beside kana, accents inside words, and a header says words that are known (read.METHOD.md).
"""

from __future__ import annotations

import codecs
import re
import unicodedata
from collections.abc import Iterator
from functools import cache
from typing import Final, NamedTuple, Protocol

import numpy as np
import pyarrow as pa

from reach.read import lexicon

# In the order in which they are preferred where nothing tells: cp1252 can read any text.
CANDIDATES: Final = (
    "cp1252", "cp1250", "cp1251", "cp932", "gb18030", "cp949", "cp1253", "cp1254", "euc_jp", "koi8_r", "mac_roman",
)  # fmt: skip
_SAMPLE: Final = 4096
_LINES: Final = 200
_BYTES: Final = 20_000
_HEADER_LINES: Final = 12
_CHUNK: Final = 1 << 24
_HIGH: Final = re.compile(rb"[\x80-\xff]")
_CELL: Final = re.compile(r"[,;\t|]")
_GOOD_MARKS: Final = set("°–—’«»·±µ‘“”…€№、。・「」（）：")


class Bytes(Protocol):
    """Bytes of which any part can be had: in memory, or on a disc."""

    @property
    def size(self) -> int:
        """How many."""

    def slice(self, offset: int = ..., length: int | None = ...) -> pa.Buffer:
        """So many of them."""


class Text(NamedTuple):
    """A text as UTF-8 without byte order mark, and the encoding it was in."""

    utf8: pa.Buffer
    encoding: str


class Found(NamedTuple):
    """How the text of a file is written: its encoding, where it begins, and whether from there on it is UTF-8 as it stands."""

    encoding: str
    begin: int = 0
    stands: bool = False


def text(data: pa.Buffer) -> Text:
    """The text of a file.

    data : its bytes
    Returns Text; every file gives some text. What no encoding can read becomes U+FFFD.
    """
    found = find(data)
    if found.stands:
        return Text(data.slice(found.begin), said(found))
    return Text(pa.py_buffer(b"".join(recoded(data, found))), said(found))


def find(data: Bytes) -> Found:
    """How the text of a file is written. data : its bytes"""
    begin = as_it_stands(data)
    if begin is not None:
        return Found("utf-8", begin, stands=True)
    start = _head(data, _SAMPLE)
    if start.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        return Found("utf-32")
    if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return Found("utf-16")
    if start.startswith(codecs.BOM_UTF8):
        begin = len(codecs.BOM_UTF8)
    elif ends := _utf16(start):
        return Found(ends)
    is_utf8 = _is_utf8(data) or _is_damaged_utf8(data)
    return Found("utf-8" if is_utf8 else guess(data), begin or 0)


def said(found: Found) -> str:
    """The name of an encoding as a report has it."""
    return found.encoding.removesuffix("-le").removesuffix("-be")


def recoded(data: Bytes, found: Found) -> Iterator[bytes]:
    """The text of a file in UTF-8, part by part; what cannot be read is U+FFFD."""
    decoder = codecs.getincrementaldecoder(found.encoding)(errors="replace")
    start = found.begin
    while start < data.size:
        part = data.slice(start, min(_CHUNK, data.size - start)).to_pybytes()
        start += len(part)
        yield decoder.decode(part, start == data.size).encode("utf-8", errors="replace")


def as_it_stands(data: Bytes) -> int | None:
    """Where the text of a file begins that is UTF-8 throughout, behind its mark where it has one; None of any other file."""
    start = _head(data, _SAMPLE)
    begin = len(codecs.BOM_UTF8) if start.startswith(codecs.BOM_UTF8) else 0
    if not begin and _utf16(start):  # zeros are UTF-8 too
        return None
    # The end of a file that was cut off may go through a character.
    is_cut = data.size > begin and bytes(data.slice(data.size - 1, 1).to_pybytes()) > b"\x7f"
    return begin if not is_cut and _is_utf8(data) else None


def _utf16(start: bytes) -> str:
    """Which UTF-16 it is, by the beginning: Latin letters have a zero at every other place there, and nowhere else."""
    for encoding, low, high in (("utf-16-le", start[::2], start[1::2]), ("utf-16-be", start[1::2], start[::2])):
        if _zeros(high) > 0.4 > 0.1 > _zeros(low):
            return encoding
    return ""


def _is_damaged_utf8(data: Bytes) -> bool:
    """Whether it is UTF-8 but for a character here and there, such as one that the end of the file cut in two."""
    decoded = "".join(line.decode("utf-8", errors="replace") for line in _lines_that_tell(data))
    foreign = [character for character in decoded if character > "\x7f"]
    return foreign.count("\ufffd") * 20 < len(foreign)


def guess(data: Bytes) -> str:
    """The likeliest of CANDIDATES for bytes that are no UTF-8."""
    lines = _lines_that_tell(data)
    header = [line for line in _head(data, _SAMPLE).splitlines()[:_HEADER_LINES] if _HIGH.search(line)]
    scores = [_score(lines, header, encoding) for encoding in CANDIDATES]
    # Of equals the first; and where no encoding makes a text of it, the one whose readers most files were made for.
    return CANDIDATES[int(np.argmax(scores))] if max(scores) > 0 else CANDIDATES[0]


def _lines_that_tell(data: Bytes) -> list[bytes]:
    """Distinct lines with bytes beyond ASCII: not many, as one mark in two million rows may stand anywhere."""
    found: dict[bytes, None] = {}
    for start in range(0, data.size, _CHUNK):
        part = data.slice(start, min(_CHUNK, data.size - start)).to_pybytes()
        if not _HIGH.search(part):
            continue
        size = 0
        lines = part.splitlines()
        # A line that the cut goes through may end within a character, which would rule its encoding out.
        for line in lines[bool(start) : len(lines) - (start + _CHUNK < data.size)] or lines:
            if _HIGH.search(line):
                found[line] = None
                size += len(line)
                if len(found) >= _LINES or size > _BYTES:
                    return list(found)
    return list(found)


def _score(lines: list[bytes], header: list[bytes], encoding: str) -> float:
    try:
        decoded = "\n".join(line.decode(encoding) for line in lines)
        names = [line.decode(encoding) for line in header]
    except UnicodeDecodeError:
        return -np.inf
    padded = f" {decoded} "
    marks = [_look(padded[k - 1], padded[k], padded[k + 1]) for k in range(1, len(padded) - 1) if padded[k] > "\x7f"]
    # Words of a header weigh more than looks: the letters of Polish read as French look no worse.
    words = [
        max(lexicon.leanings(cell).values(), default=0.0)
        for name in names
        for cell in _CELL.split(name)
        if not cell.isascii()
    ]
    return sum(marks) / max(len(marks), 1) + 0.8 * min(sum(words), 6.0)


def _look(before: str, character: str, after: str) -> float:
    """How well one character beyond ASCII stands between its neighbours."""
    script = _script(character)
    beside = {_script(before), _script(after)}
    latin = before.isascii() and before.isalpha() or after.isascii() and after.isalpha()
    if script == "bad":
        return -4.0
    if script == "halfwidth kana":
        return -1.5
    if script in ("kana", "hangul"):
        return -0.5 if latin else 1.2
    if script == "ideograph":
        return 0.6 if beside & {"ideograph", "kana"} else -0.3
    if script == "rare":
        return -2.0
    if script in ("cyrillic", "greek"):
        if unicodedata.category(character) == "Lu" and before.islower():
            return -1.0
        if latin:
            return -1.5
        return -0.5 if "\u0402" <= character <= "\u040f" or "\u0452" <= character <= "\u045f" else 0.9
    if script == "latin":
        if unicodedata.category(character) == "Lu" and before.islower():
            return -1.0
        return 0.8 if before.isalpha() or after.isalpha() else -0.6
    return 0.3 if character in _GOOD_MARKS else -1.2


@cache
def _script(character: str) -> str:
    point = ord(character)
    if point < 0x80:
        return "ascii"
    if character == "\ufffd" or unicodedata.category(character) in ("Cc", "Cn", "Co", "Cs"):
        return "bad"
    if 0xFF61 <= point <= 0xFF9F:
        return "halfwidth kana"
    if 0x3041 <= point <= 0x30FF:
        return "kana"
    if 0xAC00 <= point <= 0xD7A3:
        return "hangul"
    if 0x4E00 <= point <= 0x9FFF:
        # What Japanese and Chinese tables of the trade write lies in the first plane of both national sets.
        try:
            common = 0xB0 <= character.encode("gb2312")[0] <= 0xD7
        except UnicodeEncodeError:
            try:
                common = 0x88 <= character.encode("cp932")[0] <= 0x97
            except UnicodeEncodeError:
                common = False
        return "ideograph" if common else "rare"
    if 0x3400 <= point <= 0x4DBF or 0xF900 <= point <= 0xFAFF or point > 0xFFFF:
        return "rare"
    if 0x0400 <= point <= 0x04FF:
        return "cyrillic"
    if 0x0370 <= point <= 0x03FF and point != 0xB5:
        return "greek"
    return "latin" if character.isalpha() and point < 0x250 and character not in "ªºµ" else "mark"


def _head(data: Bytes, size: int) -> bytes:
    return bytes(data.slice(0, min(size, data.size)).to_pybytes())


def _zeros(part: bytes) -> float:
    return part.count(0) / max(len(part), 1)


def _is_utf8(data: Bytes) -> bool:
    """Whether the bytes are UTF-8, a character at the end cut in two or not."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for start in range(0, data.size, _CHUNK):
            part = data.slice(start, min(_CHUNK, data.size - start))
            if decoder.getstate()[0] or np.frombuffer(part, np.uint8).max() > 0x7F:
                decoder.decode(part.to_pybytes())
    except UnicodeDecodeError:
        return False
    return True
