"""Encodings of short files: the text itself where it can be told, and never an error."""

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.read import encoding, lexicon

# The same table as people of each tongue would head it.
HEADERS = {
    "cp1252": [
        "Uhrzeit;Empfänger;Planquadrat;Signalstärke",
        "Heure;Reçu par;Carré locator;Fréquence",
        "Hora;Oído por;Cuadrícula;Señal",
        "Tid;Mottagare;Ruta;Styrka för signal på band",
        "Kellonaika;Vastaanottaja;Etäisyys;Teho",
        "Hora;Estação;Frequência;Potência",
    ],
    "cp1250": [
        "Czas;Znak odbierającego;Lokator;Częstotliwość",
        "Čas;Značka přijímače;Lokátor;Kmitočet",
        "Čas;Prijímač;Lokátor;Vzdialenosť",
    ],
    "cp1251": ["Время;Позывной;Локатор;Частота;Сигнал", "Час;Позивний;Локатор;Рівень"],
    "koi8_r": ["Время;Позывной;Локатор;Частота;Сигнал", "Дата;Принял;Квадрат;Расстояние"],
    "cp932": ["日時;受信局;グリッド;周波数;信号", "日付;時刻;受信者;ロケーター;電力"],
    "euc_jp": ["日時;受信局;グリッド;周波数;信号", "日付;時刻;受信者;ロケーター;電力"],
    "gb18030": ["时间;接收台;网格;信噪比;频率", "日期;时间;呼号;网格;功率;距离"],
    "cp949": ["일시;수신국;그리드;신호;주파수", "날짜;시각;호출부호;그리드;거리"],
    "cp1253": ["Ώρα;Δέκτης;Εντοπιστής;Συχνότητα;Σήμα"],
    "cp1254": ["Zaman;Alıcı;Çağrı işareti;Sinyal;Güç"],
}
CASES = [(name, header) for name, headers in HEADERS.items() for header in headers]


@pytest.mark.parametrize(("name", "header"), CASES)
@pytest.mark.parametrize("rows", [1, 4, 300])
def test_the_header_comes_out_as_it_was_written(name, header, rows):
    text = header + "\r\n" + "2026-09-12 20:04;DL2QTB;JN58td;-12\r\n" * rows
    assert encoding.text(pa.py_buffer(text.encode(name))).utf8.to_pybytes().decode() == text


@pytest.mark.parametrize("name", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_a_mark_or_zeros_or_valid_utf8_decide(name):
    text = "Uhrzeit;Empfänger;受信局\n" * 5 if name != "utf-16-le" else "Uhrzeit;Empfänger\n" * 5
    text = text.replace("受信局", "x") if name.startswith("utf-16") else text
    found = encoding.text(pa.py_buffer(text.encode(name)))
    assert found.utf8.to_pybytes().decode() == text
    assert found.encoding == name.removesuffix("-sig").removesuffix("-le").removesuffix("-be")


def test_a_mistake_between_two_latin_code_pages_leaves_the_words_what_they_are():
    text = "Idő;Vevő;Lokátor;Jelszint erősség\n"  # õ of Windows-1252 stands where ő of Windows-1250 does
    found = encoding.text(pa.py_buffer(text.encode("cp1250"))).utf8.to_pybytes().decode()
    assert lexicon.folded(found) == lexicon.folded(text)


def test_a_foreign_letter_far_down_still_decides():
    text = "time;call;remarks\n" + "2026;DL2QTB;\n" * 200_000 + "2026;DL2QTB;schön für Übung\n"
    found = encoding.text(pa.py_buffer(text.encode("cp1252")))
    assert found.encoding == "cp1252" and found.utf8.to_pybytes().decode() == text


def test_one_damaged_character_does_not_make_utf8_something_else():
    text = "Uhrzeit;Empfänger;Größe;Übung\n" * 3 + "".join(f"{k};Übung für späten Gruß {k}\n" for k in range(40))
    damaged = text.encode().replace("Gruß 17".encode(), b"Gru\xc3 17")
    found = encoding.text(pa.py_buffer(damaged))
    assert found.encoding == "utf-8" and found.utf8.to_pybytes().decode().count("\ufffd") == 1


def test_any_bytes_give_a_text():
    for data in (bytes(range(256)) * 3, b"\xff" * 50, b"\x81\x8d\x8f", b""):
        found = encoding.text(pa.py_buffer(data)).utf8.to_pybytes().decode()
        plain = "".join(chr(byte) for byte in data if byte < 0x80)
        assert "".join(letter for letter in found if letter < "\x80") == plain, data  # ASCII is itself in all of them
        assert len(plain) <= len(found) <= len(data)


@given(
    st.binary(max_size=60),
    st.sampled_from((*encoding.CANDIDATES, "utf-8", "utf-16", "utf-16-be", "utf-32")),
    st.integers(1, 9),
)
def test_a_text_that_is_recoded_part_by_part_is_no_other(data, name, chunk):
    data = "".encode(name) + data  # the mark, where there is one
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(encoding, "_CHUNK", chunk)
        found = b"".join(encoding.recoded(pa.py_buffer(data), encoding.Found(name)))
    assert found.decode() == data.decode(name, errors="replace")
