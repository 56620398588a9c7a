"""Exports as people's programs and spreadsheets write them, made up from seeds, each with the truth it was made from.

    python -m tests.read.corpus.make_corpus --out folder          write the files to look at
    python -m tests.read.corpus.make_corpus --score               figures by family (read rightly, asked, read wrongly)
    python -m tests.read.corpus.make_corpus --score --seed 7      the random families on another seed

Nothing here is shared with the package: no word list, no parser, no geometry. Callsigns are of no one. Seeds below 1000
were used while the reader was written; those from 1000 on were set aside before and only ever measured.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

OWN_CALL, OWN_LOCATOR = "EI4QRA", "IO51es"
BANDS = {"40m": 7_046_120, "30m": 10_144_320, "20m": 14_087_110, "17m": 18_101_350, "15m": 21_080_240}
MHZ = {"40m": "7", "30m": "10", "20m": "14", "17m": "18", "15m": "21"}
NOW = datetime(2026, 11, 20, tzinfo=UTC)
TUNED, SET_ASIDE = 11, 1011  # seeds


@dataclass(frozen=True)
class Spot:
    time: datetime
    rx: str
    rx_loc: str
    snr: int
    hz: int
    band: str
    tx: str = OWN_CALL
    tx_loc: str = OWN_LOCATOR
    watt: float = 5.0
    km: int = 0
    az: int = 0
    drift: int = 0


@dataclass(frozen=True)
class Case:
    """One export: its bytes, the spots that are in it, and what a right reader may do with it.

    may_ask   codes of questions that are right here, besides reading it rightly
    must_ask  whether it cannot be read without asking
    known     what the reader is told beforehand: callsign, locator, power_w
    """

    family: str
    name: str
    data: bytes
    spots: tuple[Spot, ...]
    may_ask: frozenset[str] = frozenset()
    must_ask: bool = False
    known: dict[str, object] = field(
        default_factory=lambda: {"callsign": OWN_CALL, "locator": OWN_LOCATOR, "power_w": 5.0}
    )


# ------------------------------------------------------------------------------------------------------------ the truth


def _place(rng: np.random.Generator) -> tuple[str, float, float]:
    lon, lat = rng.uniform(-130, 178), rng.uniform(-45, 66)
    x, y = lon + 180, lat + 90
    text = chr(65 + int(x // 20)) + chr(65 + int(y // 10)) + str(int(x % 20 // 2)) + str(int(y % 10))
    return text + chr(97 + int(x % 2 * 12)) + chr(97 + int(y % 1 * 24)), lon, lat


def _way(lon: float, lat: float, lon0: float = -9.625, lat0: float = 51.77) -> tuple[float, float]:
    a, b, d = math.radians(lat0), math.radians(lat), math.radians(lon - lon0)
    h = math.sin((b - a) / 2) ** 2 + math.cos(a) * math.cos(b) * math.sin(d / 2) ** 2
    bearing = math.degrees(
        math.atan2(math.sin(d) * math.cos(b), math.cos(a) * math.sin(b) - math.sin(a) * math.cos(b) * math.cos(d))
    )
    return 12742 * math.asin(math.sqrt(h)), bearing % 360


def spots(
    rng: np.random.Generator, n: int = 80, start: datetime | None = None, days: int = 2, bands: int = 2
) -> list[Spot]:
    """Reports of one station: far receivers hear it weaker, slots of two minutes, one frequency a slot."""
    start = start or datetime(2026, int(rng.integers(1, 11)), int(rng.integers(1, 27)), 18, 0, tzinfo=UTC)
    prefixes = ("DL", "G", "F", "JA", "VK", "PA", "OH", "SM", "K", "EA", "ZS", "LU", "W")
    receivers = []
    for k in rng.permutation(200)[:24]:
        call = f"{prefixes[k % 13]}{k % 9 + 1}Q{'RSTU'[k % 4]}{chr(65 + k % 26)}" + ("/P" if k % 17 == 3 else "")
        locator, lon, lat = _place(rng)
        km, az = _way(lon, lat)
        receivers.append((call, locator, km, az, rng.normal(0, 4)))
    chosen = rng.choice(list(BANDS), bands, replace=False)
    found = []
    while len(found) < n:
        slot = start + timedelta(minutes=2 * int(rng.integers(0, days * 700)))
        band = str(chosen[(slot.minute // 2) % bands])
        call, locator, km, az, off = receivers[int(rng.integers(0, 24))]
        snr = round(-4 - 14 * math.log10(max(km, 100) / 1000) + off + rng.normal(0, 3))
        if snr > -30:
            hz = BANDS[band] + (slot.hour * 7 + slot.minute) % 40 + int(rng.integers(0, 6))
            drift = int(rng.choice([-1, 0, 0, 0, 1]))
            found.append(Spot(slot, call, locator, snr, hz, band, km=round(km), az=round(az) % 360, drift=drift))
    unique = {(s.time, s.rx, s.band): s for s in found}
    return sorted(unique.values(), key=lambda s: (s.time, s.rx))


# ---------------------------------------------------------------------------------------------------- how it is written

Write = Callable[[Spot], str]


def _two(n: int) -> str:
    return f"{n:02}"


def _months(names: str) -> Callable[[datetime], str]:
    return lambda t: names.split()[t.month - 1]


MONTHS = {
    "de": _months("Januar Februar März April Mai Juni Juli August September Oktober November Dezember"),
    "fr": _months("janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc."),
    "es": _months("enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre"),
    "it": _months("gen feb mar apr mag giu lug ago set ott nov dic"),
    "pt": _months("janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro"),
    "nl": _months("januari februari maart april mei juni juli augustus september oktober november december"),
    "pl": _months("stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października listopada grudnia"),
    "cs": _months("ledna února března dubna května června července srpna září října listopadu prosince"),
    "fi": _months("tammikuuta helmikuuta maaliskuuta huhtikuuta toukokuuta kesäkuuta heinäkuuta elokuuta syyskuuta lokakuuta marraskuuta joulukuuta"),
    "ru": _months("января февраля марта апреля мая июня июля августа сентября октября ноября декабря"),
    "tr": _months("Ocak Şubat Mart Nisan Mayıs Haziran Temmuz Ağustos Eylül Ekim Kasım Aralık"),
    "el": _months("Ιαν Φεβ Μαρ Απρ Μαΐ Ιουν Ιουλ Αυγ Σεπ Οκτ Νοε Δεκ"),
    "en": _months("Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec"),
}  # fmt: skip


def _serial(t: datetime) -> float:
    return (t - datetime(1899, 12, 30, tzinfo=UTC)).total_seconds() / 86400


def _ampm(t: datetime, zero: bool = False) -> str:
    hour = (t.hour - 1) % 12 + 1
    return (
        f"{hour:02}:{t:%M} {'PM' if t.hour > 11 else 'AM'}"
        if zero
        else f"{hour}:{t:%M} {'PM' if t.hour > 11 else 'AM'}"
    )


# name -> how a moment is written in one cell, or in two (date, clock)
STYLES: dict[str, Callable[[datetime], tuple[str, ...]]] = {
    "iso": lambda t: (f"{t:%Y-%m-%d %H:%M:%S}",),
    "iso T Z": lambda t: (f"{t:%Y-%m-%dT%H:%M:%SZ}",),
    "iso minutes": lambda t: (f"{t:%Y-%m-%d %H:%M}",),
    "iso slashes": lambda t: (f"{t:%Y/%m/%d %H:%M}",),
    "iso offset": lambda t: ((t + timedelta(hours=2)).strftime("%Y-%m-%dT%H:%M:%S+02:00"),),
    "iso UTC": lambda t: (f"{t:%Y-%m-%d %H:%M} UTC",),
    "iso UTC+2": lambda t: ((t + timedelta(hours=2)).strftime("%Y-%m-%d %H:%M UTC+2"),),
    "dots": lambda t: (f"{t:%d.%m.%Y %H:%M}",),
    "dots two": lambda t: (f"{t:%d.%m.%Y}", f"{t:%H:%M}"),
    "dots seconds": lambda t: (f"{t:%d.%m.%Y}", f"{t:%H:%M:%S}"),
    "dots short year": lambda t: (f"{t:%d.%m.%y}", f"{t:%H:%M}"),
    "dots bare": lambda t: (f"{t.day}.{t.month}.{t.year}", f"{t.hour}:{t:%M}"),
    "dots dotted clock": lambda t: (f"{t:%d.%m.%Y}", f"{t:%H.%M}"),
    "dots Uhr": lambda t: (f"{t:%d.%m.%Y}", f"{t:%H:%M} Uhr"),
    "us slashes": lambda t: (f"{t.month}/{t.day}/{t.year} {_ampm(t)}",),
    "us slashes two": lambda t: (f"{t:%m/%d/%Y}", f"{t:%H:%M}"),
    "us 12 hours": lambda t: (f"{t:%m/%d/%Y}", _ampm(t, True)),
    "slashes": lambda t: (f"{t:%d/%m/%Y %H:%M}",),
    "slashes h": lambda t: (f"{t:%d/%m/%Y}", f"{t:%H}h{t:%M}"),
    "dashes": lambda t: (f"{t:%d-%m-%Y}", f"{t:%H:%M}"),
    "digits": lambda t: (f"{t:%Y%m%d}", f"{t:%H%M}"),
    "digits lost zeros": lambda t: (f"{t:%Y%m%d}", str(int(f"{t:%H%M}"))),
    "digits one": lambda t: (f"{t:%Y%m%d%H%M}",),
    "digits T": lambda t: (f"{t:%Y%m%dT%H%M%SZ}",),
    "epoch": lambda t: (str(int(t.timestamp())),),
    "epoch ms": lambda t: (str(int(t.timestamp() * 1000)),),
    "serial": lambda t: (f"{_serial(t):.5f}",),
    "serial comma": lambda t: (f"{_serial(t):.4f}".replace(".", ","),),
    "serial two": lambda t: (str(int(_serial(t))), f"{_serial(t) % 1:.6f}"),
    "spreadsheet pair": lambda t: (f"{t:%Y-%m-%d} 00:00:00", f"1899-12-30 {t:%H:%M:%S}"),
    "cjk": lambda t: (f"{t.year}年{t.month}月{t.day}日 {t.hour}時{t:%M}分",),
    "cjk two": lambda t: (f"{t.year}年{t.month}月{t.day}日", f"{t:%H:%M}"),
    "korean": lambda t: (f"{t.year}년 {t.month}월 {t.day}일 {'오후' if t.hour > 11 else '오전'} {(t.hour - 1) % 12 + 1}:{t:%M}",),
    "english name": lambda t: (f"{t:%d}-{MONTHS['en'](t)}-{t:%Y}", f"{t:%H:%M}"),
    "english weekday": lambda t: (f"{'MTWTFSS'[t.weekday()]}{'ouehrau'[t.weekday()]}{'neduitn'[t.weekday()]}, {t:%d} {MONTHS['en'](t)} {t:%Y} {t:%H:%M}",),
    "english long": lambda t: (f"{MONTHS['en'](t)} {t.day}, {t.year}", _ampm(t)),
    "clock first": lambda t: (f"{t:%H:%M}", f"{t:%Y-%m-%d}"),
}  # fmt: skip


@dataclass(frozen=True)
class Tongue:
    """A language's usual export: headers by field, what stands between cells, decimal mark, encoding."""

    names: dict[str, str]
    delimiter: str = ";"
    comma: bool = True
    encoding: str = "utf-8"
    style: str = "dots two"


def _tongue(names: str, *more: object, **options: object) -> Tongue:
    keys = ("date", "clock", "rx", "rx_loc", "snr", "mhz", "tx", "tx_loc", "watt", "km")
    return Tongue(dict(zip(keys, names.split("|"), strict=True)), *more, **options)  # type: ignore[arg-type]


TONGUES = {
    "English": _tongue(
        "Date|Time (UTC)|Heard by|Grid|SNR (dB)|"
        "Frequency (MHz)|Transmitter|TX grid|Power (W)|Distance (km)", ",", False, style="dashes",
    ),
    "German": _tongue(
        "Datum|Uhrzeit|Empfänger|Planquadrat Empfänger|Signal/Rausch (dB)|"
        "Frequenz (MHz)|Sender|Planquadrat Sender|Leistung (W)|Entfernung km", encoding="cp1252",
    ),
    "French": _tongue(
        "Date|Heure TU|Reçu par|Locator récepteur|Rapport S/B (dB)|"
        "Fréquence (MHz)|Émetteur|Locator émetteur|Puissance (W)|Distance (km)", style="slashes h",
    ),
    "Spanish": _tongue(
        "Fecha|Hora UTC|Recibido por|Localizador receptor|Señal/ruido dB|"
        "Frecuencia MHz|Emisor|Localizador emisor|Potencia W|Distancia km", encoding="cp1252", style="slashes h",
    ),
    "Italian": _tongue(
        "Data|Ora|Ricevente|Locatore ricevente|Rapporto S/N|"
        "Frequenza|Trasmittente|Locatore trasmittente|Potenza W|Distanza", style="dots bare",
    ),
    "Portuguese": _tongue(
        "Data|Hora|Recebido por|Quadrícula receptor|Sinal (dB)|"
        "Frequência|Emissor|Quadrícula emissor|Potência (W)|Distância", style="dashes",
    ),
    "Dutch": _tongue(
        "Datum|Tijd|Ontvanger|Locator ontvanger|Signaal/ruis|"
        "Frequentie|Zender|Locator zender|Vermogen (W)|Afstand", style="dashes",
    ),
    "Polish": _tongue(
        "Data|Godzina|Odbierający|Lokator odbierającego|Sygnał dB|"
        "Częstotliwość|Nadawca|Lokator nadawcy|Moc W|Odległość", encoding="cp1250",
    ),
    "Czech": _tongue(
        "Datum|Čas|Přijímač|Lokátor přijímače|Odstup dB|"
        "Kmitočet|Vysílač|Lokátor vysílače|Výkon W|Vzdálenost", encoding="cp1250", style="dots bare",
    ),
    "Slovak": _tongue(
        "Dátum|Čas|Prijímač|Lokátor prijímača|SNR|"
        "Frekvencia|Vysielač|Lokátor vysielača|Výkon W|Vzdialenosť", encoding="cp1250",
    ),
    "Swedish": _tongue(
        "Datum|Tid|Mottagare|Ruta mottagare|Signal/brus|"
        "Frekvens|Sändare|Ruta sändare|Effekt W|Avstånd", style="iso minutes",
    ),
    "Danish": _tongue(
        "Dato|Klokken|Modtager|Lokator modtager|Signalstyrke dB|"
        "Frekvens|Afsender|Lokator afsender|Effekt W|Afstand", encoding="cp1252", style="dashes",
    ),
    "Norwegian": _tongue(
        "Dato|Klokkeslett|Mottaker|Lokator mottaker|Signal dB|"
        "Frekvens|Sender|Lokator sender|Effekt W|Avstand",
    ),
    "Finnish": _tongue(
        "Päivämäärä|Kello|Vastaanottaja|Ruutu vastaanottaja|Signaali/kohina|"
        "Taajuus|Lähettäjä|Ruutu lähettäjä|Teho W|Etäisyys", style="dots dotted clock",
    ),
    "Russian": _tongue(
        "Дата|Время|Принял|Локатор приёмника|Сигнал/шум дБ|"
        "Частота МГц|Передатчик|Локатор передатчика|Мощность Вт|Расстояние", encoding="cp1251",
    ),
    "Russian KOI8": _tongue(
        "Дата|Время|Приемник|Локатор приемника|Сигнал дБ|"
        "Частота|Передатчик|Локатор передатчика|Мощность Вт|Расстояние", encoding="koi8_r",
    ),
    "Ukrainian": _tongue(
        "Дата|Час|Приймач|Локатор приймача|Сигнал|"
        "Частота|Передавач|Локатор передавача|Потужність Вт|Відстань",
    ),
    "Turkish": _tongue(
        "Tarih|Saat|Alıcı|Alıcı konumu|Sinyal|"
        "Frekans|Gönderen|Gönderen konumu|Güç W|Mesafe", encoding="cp1254",
    ),
    "Hungarian": _tongue(
        "Dátum|Idő|Vevő|Vevő lokátora|Jel/zaj|"
        "Frekvencia|Adó|Adó lokátora|Teljesítmény W|Távolság", encoding="cp1250", style="dots bare",
    ),
    "Greek": _tongue(
        "Ημερομηνία|Ώρα|Δέκτης|Εντοπιστής δέκτη|Σήμα dB|"
        "Συχνότητα|Πομπός|Εντοπιστής πομπού|Ισχύς W|Απόσταση", encoding="cp1253", style="slashes h",
    ),
    "Romanian": _tongue(
        "Data|Ora|Recepționat de|Locator receptor|Semnal|"
        "Frecvența|Emițător|Locator emițător|Putere W|Distanța",
    ),
    "Japanese": _tongue(
        "日付|時刻|受信局|受信局グリッド|信号 (dB)|"
        "周波数|送信局|送信局グリッド|出力W|距離", ",", False, "cp932", "cjk two",
    ),
    "Japanese EUC": _tongue(
        "日付|時刻|受信局|グリッド|強度|"
        "周波数|自局|自局グリッド|電力W|距離km", ",", False, "euc_jp", "iso minutes",
    ),
    "Chinese": _tongue(
        "日期|时间|接收台|接收台网格|信噪比|"
        "频率|发射台|发射台网格|功率W|距离", ",", False, "gb18030", "cjk two",
    ),
    "Korean": _tongue(
        "날짜|시각|수신국|수신국 그리드|신호|"
        "주파수|송신국|송신국 그리드|출력 W|거리", ",", False, "cp949", "korean",
    ),
}  # fmt: skip


def _decimal(text: str, comma: bool) -> str:
    return text.replace(".", ",") if comma else text


def table(
    found: list[Spot],
    names: dict[str, str],
    *,
    style: str = "iso",
    delimiter: str = ",",
    comma: bool = False,
    order: list[str] | None = None,
    header: bool = True,
    fields: dict[str, Write] | None = None,
    encoding: str = "utf-8",
    before: str = "",
    after: str = "",
    newline: str = "\n",
    quote: bool = False,
    repeat_header: int = 0,
) -> bytes:
    """Spots as text: `names` are the headers by field, `order` the fields, `fields` how some are written."""
    moment = STYLES[style]
    two = len(moment(found[0].time)) == 2
    parts = {"date": 0, "clock": 1} if style != "clock first" else {"clock": 0, "date": 1}
    write: dict[str, Write] = {
        "date": lambda s: moment(s.time)[parts["date"] if two else 0],
        "clock": lambda s: moment(s.time)[parts["clock"]] if two else "",
        "rx": lambda s: s.rx, "rx_loc": lambda s: s.rx_loc, "snr": lambda s: str(s.snr),
        "mhz": lambda s: _decimal(f"{s.hz / 1e6:.6f}", comma), "tx": lambda s: s.tx, "tx_loc": lambda s: s.tx_loc,
        "watt": lambda s: _decimal(f"{s.watt:g}", comma), "km": lambda s: str(s.km), "az": lambda s: str(s.az),
        "band": lambda s: s.band, "drift": lambda s: str(s.drift), "mode": lambda s: "DIGI", **(fields or {}),
    }  # fmt: skip
    order = [name for name in (order or list(names)) if name != "clock" or two]

    def row(cells: list[str]) -> str:
        return delimiter.join(f'"{c}"' if quote or (delimiter.strip() and delimiter in c) else c for c in cells)

    head = row([names[name] for name in order])
    lines = [row([write[name](s) for name in order]) for s in found]
    if repeat_header:
        lines.insert(repeat_header, head)
    text = before + "".join(f"{line}{newline}" for line in ([head] if header else []) + lines) + after
    return text.encode(encoding)


# ------------------------------------------------------------------------------------------------------------ families


def corpus(seed: int = TUNED) -> Iterator[Case]:
    """All families; the random ones from this seed."""
    yield from languages(seed)
    yield from month_names(seed)
    yield from styles(seed)
    yield from nameless(seed)
    yield from artefacts(seed)
    yield from directions(seed)
    yield from mixtures(seed, 60)


def _rng(seed: int, family: str, k: int = 0) -> np.random.Generator:
    return np.random.default_rng([seed, sum(map(ord, family)), k])


def languages(seed: int) -> Iterator[Case]:
    for k, (name, t) in enumerate(TONGUES.items()):
        found = spots(_rng(seed, "languages", k), 60)
        names = t.names
        data = table(found, names, style=t.style, delimiter=t.delimiter, comma=t.comma, encoding=t.encoding)
        yield Case("languages", name, data, tuple(found))


def month_names(seed: int) -> Iterator[Case]:
    for k, (tongue, month) in enumerate(MONTHS.items()):
        found = spots(_rng(seed, "months", k), 60, start=datetime(2026, 1 + k % 9, 9, 18, tzinfo=UTC), days=40)
        names = {"date": "Date", "clock": "UTC", "rx": "Call", "rx_loc": "Grid", "snr": "SNR", "mhz": "MHz"}
        fields = {
            "date": lambda s, m=month: f"{s.time.day} {m(s.time)} {s.time.year}",
            "clock": lambda s: f"{s.time:%H:%M}",
        }
        yield Case(
            "month names", tongue, table(found, names, style="dots two", fields=fields, delimiter=";"), tuple(found)
        )


def styles(seed: int) -> Iterator[Case]:
    names = {
        "date": "Date",
        "clock": "Time",
        "rx": "Reporter",
        "rx_loc": "Locator",
        "snr": "Report",
        "mhz": "QRG",
        "tx": "Sender",
    }
    for k, style in enumerate(STYLES):
        found = spots(_rng(seed, "styles", k), 90, days=3)
        data = table(found, names, style=style, delimiter=";")
        open_order = style in ("us slashes", "us slashes two", "us 12 hours", "slashes", "slashes h", "dashes")
        asks = frozenset({"order"}) if open_order else frozenset()
        yield Case("date styles", style, data, tuple(found), asks)


FIELDS = ("date", "clock", "rx", "rx_loc", "snr", "mhz", "tx", "tx_loc", "km", "az", "drift", "watt", "band")


def nameless(seed: int) -> Iterator[Case]:
    for k in range(12):
        rng = _rng(seed, "nameless", k)
        found = spots(rng, int(rng.integers(30, 120)))
        order = [f for f in FIELDS if f not in ("km", "az", "drift", "watt", "band") or rng.random() < 0.5]
        order = [order[i] for i in rng.permutation(len(order))]
        names = {name: f"c{at + 1}" for at, name in enumerate(order)}
        style = str(rng.choice(["iso", "dots two", "iso T Z", "digits T", "epoch"]))
        data = table(found, names, style=style, order=order, header=k % 2 == 0, delimiter=",;\t|"[k % 4])
        yield Case("nameless", f"{k} {style}", data, tuple(found), frozenset({"close", "missing", "power-unit"}))


def artefacts(seed: int) -> Iterator[Case]:
    """What spreadsheets, editors and people do to tables."""
    names = {
        "date": "Date",
        "clock": "Time",
        "rx": "Callsign",
        "rx_loc": "Locator",
        "snr": "SNR",
        "mhz": "Frequency",
        "watt": "Power (W)",
    }
    made = [
        ("decimal commas", {"comma": True, "delimiter": ";"}),
        ("sep line", {"before": "sep=;\n", "delimiter": ";"}),
        ("title lines", {"before": "Reports of the weekend\n\n", "delimiter": ";"}),
        ("wide title", {"before": "Station;EI4QRA;;;;;\nMade;2026-11-01;;;;;\n", "delimiter": ";"}),
        ("total line", {"after": "Total;;80;;;;\n", "delimiter": ";"}),
        ("header again", {"repeat_header": 30}),
        ("all quoted", {"quote": True}),
        ("windows lines", {"newline": "\r\n"}),
        ("old mac lines", {"newline": "\r"}),
        ("utf-16", {"encoding": "utf-16"}),
        ("utf-8 mark", {"encoding": "utf-8-sig"}),
        ("tabs", {"delimiter": "\t"}),
        ("bars", {"delimiter": "|"}),
        ("typewriter", {"delimiter": "   "}),
        ("db in cells", {"fields": {"snr": lambda s: f"{s.snr} dB"}}),
        ("mhz in cells", {"fields": {"mhz": lambda s: f"{s.hz / 1e6:.4f} MHz"}}),
        ("watts in cells", {"fields": {"watt": lambda s: "5 W"}}),
        ("dbm in cells", {"fields": {"watt": lambda s: "37 dBm"}}),
        ("real minus", {"fields": {"snr": lambda s: str(s.snr).replace("-", "\u2212")}}),
        ("formulas", {"fields": {"rx_loc": lambda s: f'="{s.rx_loc}"', "snr": lambda s: f'="{s.snr}"'}, "delimiter": ";"}),
        ("apostrophes", {"fields": {"snr": lambda s: f"'{s.snr}"}}),
        ("thousands", {"fields": {"mhz": lambda s: f"{s.hz // 1000 // 1000}.{s.hz // 1000 % 1000:03},{s.hz // 100 % 10}"}, "delimiter": ";"}),
        ("grouped hz", {"fields": {"mhz": lambda s: f"{s.hz:,}".replace(",", ".")}, "delimiter": ";"}),
        ("blank thousands", {"fields": {"mhz": lambda s: f"{s.hz:,}".replace(",", " ")}, "delimiter": ";"}),
        ("exponents", {"fields": {"mhz": lambda s: f"{s.hz:.6E}"}}),
        ("wide digits", {"fields": {"snr": lambda s: str(s.snr).translate({ord(str(d)): 0xFF10 + d for d in range(10)})}}),
        ("plus signs", {"fields": {"snr": lambda s: f"{s.snr:+d}"}}),
        ("lost cells", {"fields": {"watt": lambda s: ""}}),
    ]  # fmt: skip
    for k, (name, options) in enumerate(made):
        found = spots(_rng(seed, "artefacts", k), 80)
        yield Case("spreadsheets", name, table(found, names, style="iso minutes", **options), tuple(found))  # type: ignore[arg-type]
    found = spots(_rng(seed, "artefacts", 90), 80)
    rst = {"fields": {"snr": lambda s: "599"}}
    yield Case("spreadsheets", "599", table(found, names, **rst), tuple(found), frozenset({"rst"}), True)  # type: ignore[arg-type]
    wrong_unit = {**names, "mhz": "Frequency (MHz)"}
    khz = {"mhz": lambda s: f"{s.hz / 1e3:.1f}"}
    yield Case("spreadsheets", "MHz that are kHz", table(found, wrong_unit, fields=khz), tuple(found))
    band = {**names, "mhz": "Band"}
    by_mhz = {"mhz": lambda s: MHZ[s.band]}
    yield Case("spreadsheets", "bands by MHz", table(found, band, fields=by_mhz), tuple(found))
    local = {**names, "clock": "Ortszeit"}
    late = [replace(s, time=s.time + timedelta(hours=2)) for s in found]
    yield Case(
        "spreadsheets", "local time", table(late, local, style="dots two"), tuple(found), frozenset({"zone"}), True
    )
    jst = {**names, "date": "Time (JST)"}
    late = [replace(s, time=s.time + timedelta(hours=9)) for s in found]
    yield Case("spreadsheets", "JST", table(late, jst, style="iso minutes"), tuple(found))
    mez = {**names, "clock": "Zeit MEZ"}
    summer = spots(_rng(seed, "artefacts", 91), 80, start=datetime(2026, 7, 11, 18, tzinfo=UTC))
    late = [replace(s, time=s.time + timedelta(hours=2)) for s in summer]
    yield Case(
        "spreadsheets",
        "MEZ in July",
        table(late, mez, style="dots two"),
        tuple(summer),
        frozenset({"zone-summer"}),
        True,
    )
    one = spots(_rng(seed, "artefacts", 92), 40, start=datetime(2026, 5, 6, 0, 4, tzinfo=UTC), days=1)
    one = [s for s in one if s.time.day == 6]
    asks = frozenset({"order"})
    yield Case("spreadsheets", "one day, slashes", table(one, names, style="slashes h"), tuple(one), asks, True)


def directions(seed: int) -> Iterator[Case]:
    """Who is receiver, with and without headers that say so."""
    pairs = [
        ("Receiver", "Transmitter"), ("RX", "TX"), ("Reporter", "Sender"), ("Heard by", "My call"), ("Spotter", "Call"),
        ("Empfänger", "Sender"), ("Récepteur", "Émetteur"), ("受信局", "送信局"), ("Call", "Own call"), ("Who", "From"),
    ]  # fmt: skip
    for k, (rx, tx) in enumerate(pairs):
        found = spots(_rng(seed, "directions", k), 70)
        names = {
            "date": "Time",
            "tx": tx,
            "tx_loc": f"{tx} grid",
            "rx": rx,
            "rx_loc": f"{rx} grid",
            "snr": "dB",
            "mhz": "MHz",
        }
        yield Case("directions", f"{rx}, {tx}", table(found, names), tuple(found), frozenset({"close"}))
    heard = [(a, b) for a, b in pairs[:5]]
    for k, (rx, tx) in enumerate(heard):
        # What the station itself heard: it is the receiver, and the header says so.
        found = [
            replace(s, rx=OWN_CALL, rx_loc=OWN_LOCATOR, tx=s.rx, tx_loc=s.rx_loc)
            for s in spots(_rng(seed, "heard", k), 70)
        ]
        found = list({(s.time, s.tx, s.band): s for s in found}.values())
        if rx == "Spotter":
            tx = "Heard station"
        names = {
            "date": "Time",
            "tx": tx,
            "tx_loc": f"{tx} grid",
            "rx": rx,
            "rx_loc": f"{rx} grid",
            "snr": "dB",
            "mhz": "MHz",
        }
        if "My" in tx:
            names |= {"tx": "Station heard", "tx_loc": "Station heard grid"}
        yield Case("directions", f"heard: {rx}, {tx}", table(found, names), tuple(found), frozenset({"close"}))


def _extras(rng: np.random.Generator, count: int) -> dict[str, tuple[str, Write]]:
    """Columns nobody asked for: field -> (header, how it is written)."""
    made: list[tuple[str, Callable[[Spot], str]]] = [
        ("Temperature", lambda s: f"{12 + 5 * math.sin(s.time.hour / 4) + rng.normal(0, 0.3):.1f}"),
        ("Noise", lambda s: str(round(rng.normal(-110, 4)))),
        ("Age", lambda s: str(int(rng.integers(0, 90)))),
        ("ID", lambda s: str(880000 + int(rng.integers(0, 99999)))),
        ("DT", lambda s: f"{rng.normal(0.3, 0.4):.1f}"),
        ("Altitude", lambda s: str(int(rng.integers(0, 900)))),
        ("Version", lambda s: str(rng.choice(["2.1", "2.2", "3.0"]))),
        ("Country", lambda s: str(rng.choice(["Japan", "France", "Chile"]))),
        ("Drift", lambda s: str(s.drift)),
        ("Offset", lambda s: str(int(rng.integers(1400, 1600)))),
        ("Kp", lambda s: str(int(rng.integers(0, 7)))),
        ("Remarks", lambda s: str(rng.choice(["", "fading", "strong"]))),
        ("Battery", lambda s: f"{rng.normal(12.6, 0.2):.2f}"),
    ]
    picked = rng.permutation(len(made))[:count]
    return {f"extra{k}": made[k] for k in picked}


def mixtures(seed: int, count: int) -> Iterator[Case]:
    """Everything at once, at random."""
    for k in range(count):
        rng = _rng(seed, "mixtures", k)
        tongue = TONGUES[str(rng.choice(list(TONGUES)))]
        found = spots(rng, int(rng.integers(40, 140)), days=int(rng.integers(1, 5)), bands=int(rng.integers(1, 4)))
        style = str(rng.choice(list(STYLES)))
        extras = _extras(rng, int(rng.integers(0, 5)))
        names = dict(tongue.names)
        for optional in ("tx", "tx_loc", "watt", "km"):
            if rng.random() < 0.4:
                del names[optional]
        if "tx" not in names:
            names.pop("tx_loc", None)
        names |= {field: header for field, (header, _) in extras.items()}
        fields: dict[str, Write] = {field: write for field, (_, write) in extras.items()}
        if rng.random() < 0.2:
            fields["snr"] = lambda s: f"{s.snr} dB"
        if rng.random() < 0.2:
            fields["mhz"] = lambda s: f"{s.hz / 1e3:.1f}"
            names["mhz"] = names["mhz"].replace("MHz", "kHz")
        order = [list(names)[i] for i in rng.permutation(len(names))]
        delimiter = str(rng.choice([";", "\t", "|"])) if tongue.comma else str(rng.choice([",", ";", "\t"]))
        data = table(
            found,
            names,
            style=style,
            delimiter=delimiter,
            comma=tongue.comma,
            order=order,
            fields=fields,
            encoding=_encoding(rng, tongue, names, style),
            before=str(rng.choice(["", "", "Export\n", "sep=" + delimiter + "\n"])),
            newline=str(rng.choice(["\n", "\r\n"])),
        )
        asks = {"order"} if "slashes" in style or style in ("dashes", "us 12 hours") else set()
        yield Case("mixtures", f"{seed}/{k} {style}", data, tuple(found), frozenset({"close", *asks}))


def _encoding(rng: np.random.Generator, tongue: Tongue, names: dict[str, str], style: str) -> str:
    wanted = tongue.encoding if rng.random() < 0.5 else "utf-8"
    try:
        "".join(names.values()).encode(wanted)
        STYLES[style](NOW)[0].encode(wanted)
    except UnicodeEncodeError:
        return "utf-8"
    return wanted


def stress(seed: int, count: int, *, swapped: bool = False, worded: bool = False) -> Iterator[Case]:
    """Tables with up to six columns too many: nameless, with two headers exchanged, or with their own headers."""
    worded_names = {
        "date": "Time", "rx": "Reporter", "rx_loc": "Reporter grid", "snr": "SNR", "mhz": "MHz", "tx": "Sender",
        "tx_loc": "Sender grid", "km": "Distance", "az": "Azimuth", "watt": "Power (W)", "band": "Band",
    }  # fmt: skip
    for k in range(count):
        rng = _rng(seed, "stress", k + 5000 * swapped)
        found = spots(rng, int(rng.integers(6, 300)), days=int(rng.integers(1, 4)), bands=int(rng.integers(1, 3)))
        names = {
            f: worded_names[f]
            for f in worded_names
            if f in ("date", "rx", "rx_loc", "snr", "mhz") or rng.random() < 0.5
        }
        if rng.random() < 0.2:
            names = {f: n for f, n in names.items() if f != "mhz"} | {"band": "Band"}
        extras = _extras(rng, int(rng.integers(0, 7)))
        names |= {field: header for field, (header, _) in extras.items()}
        fields: dict[str, Write] = {field: write for field, (_, write) in extras.items()}
        if rng.random() < 0.5:
            fields["band"] = lambda s: s.band.removesuffix("m")
        order = [list(names)[i] for i in rng.permutation(len(names))]
        if swapped:
            a, b = _two_to_swap(rng, order)
            names[a], names[b] = names[b], names[a]
        data = table(found, names, style="iso", order=order, fields=fields, header=swapped or worded)
        asks = frozenset({"close", "missing", "power-unit", "rst", "own-places", "no-locators"})
        what = f"{seed}/{k} {names[b]}<>{names[a]}" if swapped else f"{seed}/{k}"
        yield Case("swapped" if swapped else "worded" if worded else "stress", what, data, tuple(found), asks)


def _two_to_swap(rng: np.random.Generator, order: list[str]) -> tuple[str, str]:
    """Two fields; never receiver against transmitter, which would be another truth and no mistake."""
    while True:
        a, b = (str(x) for x in rng.choice(order, 2, replace=False))
        if {a[:2], b[:2]} != {"rx", "tx"}:
            return a, b


# ----------------------------------------------------------------------------------------------------------- the score


def judge(case: Case, folder: Path) -> tuple[str, str]:
    """("right" | "asked" | "wrong", why): "asked" only where asking is right."""
    import pandas as pd

    from reach.errors import InputError
    from reach.read.layout import Asked
    from reach.read.roles import Own
    from reach.read.table import read_files
    from reach.read.understood import Unclear
    from reach.study import Station
    from reach.vet.rules import vet

    path = folder / "export.csv"
    path.write_bytes(case.data)
    own = Own(str(case.known.get("callsign", "")), str(case.known.get("locator", "")))
    watt = case.known.get("power_w")
    asked = Asked(own=own, power_w=float(watt) if isinstance(watt, float) else None, now=NOW)
    try:
        raw, _ = read_files(path, asked=asked)
        table = vet(raw, station=Station(**case.known), now=NOW).spots  # type: ignore[arg-type]
    except Unclear as error:
        codes = {question.code for question in error.questions}
        return ("asked" if codes <= case.may_ask else "asked needlessly"), str(error)
    except InputError as error:
        return "refused", str(error)
    if case.must_ask:
        return "wrong", "read without asking"
    got = pd.DataFrame(
        {
            "time": table["time_utc"],
            "rx": table["rx_call"].astype(str),
            "loc": table["rx_locator"].astype(str),
            "snr": table["snr_db"],
            "band": table["band"].astype(str),
            "tx": table["tx_call"].astype(str),
        }
    )
    want = [(s.time, s.rx, s.rx_loc, float(s.snr), s.band, s.tx) for s in case.spots]
    rows = [(t.to_pydatetime(), *rest) for t, *rest in got.itertuples(index=False)]
    if sorted(rows) == sorted(want):
        return "right", ""
    missing = sorted(set(want) - set(rows))[:1]
    extra = sorted(set(rows) - set(want))[:1]
    return "wrong", f"{len(rows)} of {len(want)}; wanted {missing}, got {extra}"


def score(cases: Iterator[Case], folder: Path, *, show: bool = True) -> dict[str, Counter[str]]:
    """How many of each family were read rightly, asked about rightly or needlessly, refused, read wrongly."""
    found: dict[str, Counter[str]] = {}
    for case in cases:
        verdict, why = judge(case, folder)
        found.setdefault(case.family, Counter())[verdict] += 1
        if show and verdict not in ("right",):
            print(f"{verdict:17} {case.family}: {case.name}: {why[:400]}")
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--score", action="store_true")
    parser.add_argument("--seed", type=int, default=TUNED)
    parser.add_argument("--mixtures", type=int, default=0)
    parser.add_argument("--stress", type=int, default=0)
    parser.add_argument("--swapped", type=int, default=0)
    parser.add_argument("--worded", type=int, default=0)
    given = parser.parse_args()
    if given.out:
        given.out.mkdir(parents=True, exist_ok=True)
        for case in corpus(given.seed):
            (given.out / f"{case.family} {case.name}.csv".replace("/", "-")).write_bytes(case.data)
    if given.score:
        import tempfile

        with tempfile.TemporaryDirectory() as name:
            found: dict[str, Counter[str]] = {}
            if not (given.mixtures or given.stress or given.swapped or given.worded):
                found |= score(corpus(given.seed), Path(name))
            found |= score(mixtures(given.seed, given.mixtures), Path(name))
            found |= score(stress(given.seed, given.stress), Path(name))
            found |= score(stress(given.seed, given.swapped, swapped=True), Path(name))
            found |= score(stress(given.seed, given.worded, worded=True), Path(name))
        for family, counts in found.items():
            print(f"{family:15}", dict(counts))


if __name__ == "__main__":
    main()
