"""Exports in ten tongues with everything at once that people put into a table: odd marks, units in heads and cells, days in
any order, up to twenty columns of no use, remarks above, totals below, the header once more in the middle.

    python -m tests.read.corpus.tangles --seed 2000 --count 300

Made apart from `make_corpus`, with words, marks and places of its own, to see whether what was tuned there holds elsewhere.
"""

from __future__ import annotations

import argparse
import csv
import io
import random
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.read.corpus.make_corpus import OWN_CALL, Case, Spot, score

# date, time, both, who received, locator, SNR, frequency, band, power, distance, who transmitted
WORDS = {
    "Portuguese": "Data|Hora UTC|Data e hora|Ouvido por|Localizador|Sinal/ruído (dB)|Frequência|Banda|Potência|Distância|Emissor",
    "Dutch": "Datum|Tijd UTC|Datum en tijd|Gehoord door|Locator|S/R dB|Frequentie|Band|Vermogen|Afstand|Zender",
    "Swedish": "Datum|Tid UTC|Datum och tid|Hörd av|Lokator|S/N dB|Frekvens|Band|Effekt|Avstånd|Sändare",
    "Czech": "Datum|Čas UTC|Datum a čas|Slyšel|Lokátor|SNR dB|Kmitočet|Pásmo|Výkon|Vzdálenost|Vysílač",
    "Finnish": "Päivä|Aika UTC|Päivä ja aika|Kuuli|Lokaattori|SNR dB|Taajuus|Alue|Teho|Etäisyys|Lähetin",
    "Turkish": "Tarih|Saat UTC|Tarih ve saat|Duyan|Konum|SNR (dB)|Frekans|Bant|Güç|Mesafe|Verici",
    "Greek": "Ημερομηνία|Ώρα UTC|Ημερομηνία και ώρα|Λήπτης|Locator|SNR (dB)|Συχνότητα|Μπάντα|Ισχύς|Απόσταση|Πομπός",
    "Russian": "Дата|Время UTC|Дата и время|Приёмник|Локатор|С/Ш дБ|Частота|Диапазон|Мощность|Расстояние|Передатчик",
    "Korean": "날짜|시각 UTC|일시 UTC|수신국|그리드|신호대잡음비|주파수|밴드|출력|거리|송신국",
    "Chinese": "日期|时间 UTC|日期时间 UTC|接收台|网格|信噪比|频率|波段|功率|距离|发射台",
}
ENCODINGS = {
    "Russian": ("utf-8", "cp1251"), "Greek": ("utf-8", "cp1253"), "Korean": ("utf-8", "euc_kr"), "Chinese": ("utf-8", "gb18030"),
    "Turkish": ("utf-8", "cp1254"), "Czech": ("utf-8", "cp1250"),
}  # fmt: skip
WESTERN = ("utf-8", "cp1252", "utf-8-sig", "utf-16")
# Made-up receivers, with their distance from IO51es [km].
RECEIVERS = (
    ("DL2QTB", "JN58td", 1568), ("OH3QRC", "KP11ub", 2228), ("EA5QUD", "IM98jx", 1634), ("JA7QTE", "QM08ab", 9539),
    ("K4QSF", "FM05qc", 5700), ("VK3QUG", "QF22ma", 17250), ("F6QTA", "JN18eu", 1000), ("PY2QUM", "GG66qk", 9400),
    ("SM5QRW", "JO89xi", 2000), ("ZS6QSH", "KG33xu", 9900), ("UA9QTL", "MO06dk", 5200), ("W7QTO", "CN85nm", 7400),
)  # fmt: skip
BANDS = (("20m", 14_087_100), ("30m", 10_144_300), ("40m", 7_043_600))
UNITS = {"Hz": (1, 0), "kHz": (1e3, 2), "MHz": (1e6, 5), "GHz": (1e9, 8)}
FIVE_WATTS = {"W": "5", "mW": "5000", "dBm": "37"}
MILES = 0.6214
Column = tuple[str, Callable[[Spot], str]]


def tangles(seed: int, count: int) -> Iterator[Case]:
    """So many exports; each has a seed of its own."""
    for k in range(count):
        yield _case(random.Random(f"{seed} {k}"), f"{seed} {k}")


def _case(rng: random.Random, name: str) -> Case:
    tongue = rng.choice(list(WORDS))
    words = WORDS[tongue].split("|")
    eight = "42" if rng.random() < 0.2 else ""
    told = _spots(rng, rng.choice([8, 25, 60, 200]), eight)
    mark = rng.choice(",;\t|")
    comma = mark != "," and rng.random() < 0.5
    when, may_ask = _when(rng, words)
    columns = [*when, *_what(rng, words, comma, extras=rng.choice([0, 0, 1, 5, 20]) if mark != "|" else 0)]
    text = _table(rng, columns, told, mark)
    encoding = rng.choice(ENCODINGS.get(tongue, WESTERN))
    return Case("tangles", f"{name} {tongue} {encoding}", text.encode(encoding), tuple(told), may_ask)


def _spots(rng: random.Random, count: int, eight: str) -> list[Spot]:
    moment = datetime(2026, rng.choice([3, 5, 9, 10]), rng.randint(1, 27), rng.randint(0, 20), tzinfo=UTC)
    found = []
    for _ in range(count):
        (call, locator, km), (band, hz) = rng.choice(RECEIVERS), rng.choice(BANDS)
        found.append(Spot(moment, call, locator + eight, rng.randint(-29, 6), hz, band, km=km))
        moment += timedelta(minutes=rng.randint(2, 40))
    return found


def _when(rng: random.Random, words: list[str]) -> tuple[list[Column], frozenset[str]]:
    """The columns of time, and which question is right: slashes and hyphens do not tell which number is the day."""
    date, time, both = words[:3]
    between = rng.choice("/.-")
    order = frozenset({"order"} if between != "." else ())
    styles: list[tuple[list[tuple[str, str]], frozenset[str]]] = [
        ([(date, "%Y-%m-%d"), (time, "%H:%M")], frozenset()),
        ([(both if "UTC" in both else f"{both} (UTC)", "%Y-%m-%d %H:%M:%S")], frozenset()),
        ([(date, f"%d{between}%m{between}%Y"), (time, "%H:%M:%S")], order),
        ([(date, "%Y%m%d"), (time, "%H%M")], frozenset()),
        ([(both, "%Y-%m-%dT%H:%M:%SZ")], frozenset()),
        ([(date, "%d.%m.%y"), (time, "%H.%M")], frozenset()),
    ]
    chosen, may_ask = rng.choice(styles)
    return [(head, lambda spot, form=form: spot.time.strftime(form)) for head, form in chosen], may_ask  # type: ignore[misc]


def _what(rng: random.Random, words: list[str], comma: bool, *, extras: int) -> list[Column]:
    """All other columns, in any order."""
    _, _, _, who, where, snr, frequency, band, power, distance, sender = words

    def number(text: str) -> str:
        return text.replace(".", ",") if comma else text

    lower, behind, plus = rng.random() < 0.3, rng.choice(["", " dB"]), rng.random() < 0.3
    columns: list[Column] = [
        (who, lambda spot: spot.rx.lower() if lower else spot.rx),
        (where, lambda spot: spot.rx_loc.upper() if lower else spot.rx_loc),
        (snr, lambda spot: f"{'+' if plus and spot.snr > 0 else ''}{spot.snr}{behind}"),
    ]
    use, unit, in_head = rng.choice(["frequency", "band", "both"]), rng.choice(list(UNITS)), rng.random() < 0.5
    size, decimals = UNITS[unit]
    if use != "band":
        tail = "" if in_head else f" {unit}"
        columns.append(
            (
                f"{frequency} ({unit})" if in_head else frequency,
                lambda spot: number(f"{spot.hz / size:.{decimals}f}") + tail,
            )
        )
    if use != "frequency":
        columns.append((band, lambda spot: spot.band))
    if in_watts := rng.choice([None, *FIVE_WATTS]):
        columns.append((f"{power} {in_watts}", lambda spot: FIVE_WATTS[in_watts]))
    if far := rng.choice([None, "km", "mi"]):
        columns.append((f"{distance} {far}", lambda spot: str(round(spot.km * (1 if far == "km" else MILES)))))
    if rng.random() < 0.5:
        columns.append((sender, lambda spot: OWN_CALL))
    columns += [_of_no_use(rng, k, number) for k in range(extras)]
    rng.shuffle(columns)
    return columns


def _of_no_use(rng: random.Random, k: int, number: Callable[[str], str]) -> Column:
    cells: list[Callable[[Spot], str]] = [
        lambda spot: str(rng.randint(0, 300)),
        lambda spot: rng.choice(["aa", "ok", "ja", "-"]),
        lambda spot: number(f"{rng.random() * 50:.2f}"),
        lambda spot: "",
    ]
    return f"{rng.choice(['x', 'info', 'val', 'n', 'kol'])}{k}", rng.choice(cells)


def _table(rng: random.Random, columns: list[Column], told: list[Spot], mark: str) -> str:
    """The text: header and rows, and whatever else stands there."""
    beside = rng.choice(["nothing", "nothing", "remarks", "blank lines", "total", "header again", "title"])
    out = io.StringIO()
    quoting: object = rng.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
    rows = csv.writer(out, delimiter=mark, lineterminator=rng.choice(["\n", "\r\n"]), quoting=quoting)  # type: ignore[arg-type]
    head = [name for name, _ in columns]
    out.write(
        {"remarks": "# exported for the club\n# all times UTC\n", "title": "My evening in the garden\n\n"}.get(
            beside, ""
        )
    )
    rows.writerow(head)
    for k, spot in enumerate(told):
        rows.writerow([cell(spot) for _, cell in columns])
        if beside == "blank lines" and k % 5 == 4:
            out.write("\n")
        if beside == "header again" and k == len(told) // 2:
            rows.writerow(head)
    if beside == "total":
        rows.writerow(["Total", *[""] * (len(head) - 3), str(len(told)), ""])
    return out.getvalue()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=2000)
    parser.add_argument("--count", type=int, default=300)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        for counts in score(tangles(given.seed, given.count), Path(name)).values():
            print(dict(counts))


if __name__ == "__main__":
    main()
