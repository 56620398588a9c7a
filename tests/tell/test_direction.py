"""Every output speaks of its own direction: who heard whom, in sentences, titles, axes, slides, tables and the script.

One evening of listening and one of transmitting go through everything that is written, and a list of words of the other
direction is looked for in each.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
from matplotlib.text import Text

from reach.base.words import PRINT, TERMINAL
from reach.compare.comparison import Clock, Estimate, LeftOut, Method, Refused, Remark, Told
from reach.draw import gallery, motion
from reach.findings import NoteCode
from reach.tell import deck, folder, page, texts
from reach.tell.sentences import comparison, direction, notes, plan
from reach.tell.sentences import problems as about_rows
from reach.tell.sentences import reach as answers
from reach.tell.sentences.direction import HEARD, SENT
from reach.walk import Walk
from tests.conftest import SAMPLES
from tests.tell import test_comparison_sentences as codes

# What only the other direction says. "heard" alone is a word of both.
NOT_WHEN_HEARD = re.compile(
    r"receivers?\b|receiver's|\blisteners?\b|nobody listens|who listens|(?<!Maps )(?<!Signals were )\bheard in\b|heard the signal|signal reached|"
    r"reached farthest|reached the|heard it\b|heard you\b|on the air(?! from)|nobody reported|reports came|"
    r"stronger(?! than near by)|\brx\b|you were sending|without transmissions|power at the (radio|antenna)|\bat the antenna\b|they listened",
    re.IGNORECASE,
)
NOT_WHEN_SENT = re.compile(
    r"\btransmitters\b|nobody transmits|who transmits|it heard\b|was heard came|signals heard|heard with (?!\d)|in use\b|"
    r"hear others|received with|\btx\b|the farthest heard|what it heard|what was heard|they transmitted|were heard with",
    re.IGNORECASE,
)
# Sentences that are about single rows or about all of mankind, and so are true of either.
OF_BOTH = re.compile(
    r"though no signal is stronger with it|whether the signal was stronger or the noise|\{\w+\}|An end-fed|"
    r"SWR \S+ at the antenna|ohm at the antenna|receiving antennas|`?--heard`? studies them|"
    r"333 rows are reports of other transmitters \(EI9QUC 333\)|of what the station itself heard"
)


@pytest.fixture(scope="module")
def heard(walks) -> Walk:
    return walks["listening"]


@pytest.fixture(scope="module")
def sent(walks) -> Walk:
    return walks["shared"]


def wrong(text: str, words: re.Pattern[str]) -> list[str]:
    """What of the other direction stands in a text, with what is around it."""
    plain = OF_BOTH.sub("", text)
    return [plain[max(0, hit.start() - 60) : hit.end() + 40] for hit in words.finditer(plain)]


@pytest.fixture(params=["heard", "sent"])
def studied(request, heard, sent):
    """A walk with the words that it must not say."""
    return (heard, NOT_WHEN_HEARD) if request.param == "heard" else (sent, NOT_WHEN_SENT)


# --------------------------------------------------------------------------------------------------- what is written


def test_the_answer(studied):
    found, words = studied
    for say in (PRINT, TERMINAL):
        told = [answers.title(found.findings, say), answers.headline(found.findings, say)]
        told += [answers.circumstances(found.findings, say), answers.no_far_end(found.findings)]
        told += [f"{each.text} {each.evidence}" for each in answers.answer(found.findings, say)]
        told += comparison.everything(found.comparison, say=say)
        assert not wrong("\n".join(told), words)


def test_the_page(studied):
    found, words = studied
    html = page.html(found.findings)
    body = re.sub(r"<(script|style)\b.*?</\1>", " ", html, flags=re.DOTALL)
    text = re.sub(
        r"\s+", " ", re.sub(r"<[^>]+>", " ", body) + " ".join(re.findall(r'(?:aria-label|alt)="([^"]*)"', body))
    )
    assert not wrong(text, words)
    payload = json.loads(re.search(r'id="data">(.*?)</script>', html, re.DOTALL)[1])
    for table in payload["tables"]:
        names = [table["name"], *(column["name"] for column in table["columns"])]
        assert not wrong(" ".join(names), words)
    far = direction.ends(found.findings)
    said = {"far": far.far, "fars": far.far_many, "nobody": far.nobody, "better": far.better, "where": far.where}
    assert payload["words"] == said | {"heard": far is direction.HEARD, "file": f"{far.far}s"}


def test_the_script_names_the_far_end_by_the_findings_alone():
    """Only `say.js` may hold the words; every other module asks it."""
    script = Path(page.__file__).parent / "js"
    for module in script.glob("*.js"):
        strings = re.findall(r"\"[^\"\n]*\"|`[^`]*`", page.lean(module.read_text(encoding="utf-8")))
        shown = [each for each in strings if re.search(r"\b[Rr]eceivers? |a receiver|stronger|listens", each)]
        assert module.name == "say.js" or not shown, (module.name, shown)


def test_every_picture(studied):
    found, words = studied
    for each in gallery.pictures(found.findings):
        figure = each.build()
        shown = [text.get_text() for text in figure.findobj(Text)]
        assert not wrong(" ".join(" ".join([each.alt_text, *shown]).split()), words), (
            each.name
        )  # lines are texts of their own


def test_slides_and_notes_and_handout(studied, tmp_path):
    found, words = studied
    out = tmp_path / "deck"
    deck.write(found.findings, out)
    with zipfile.ZipFile(out / deck.SLIDES) as packed:
        parts = [name for name in packed.namelist() if re.search(r"(slides|notesSlides|charts)/[^/]+\.xml$", name)]
        shown = []
        for name in parts:
            root = ElementTree.fromstring(packed.read(name))
            shown += [node.text or "" for node in root.iter() if node.tag.endswith(("}t", "}v"))]
            shown += [node.get("descr") or "" for node in root.iter()]
    assert not wrong("\n".join(shown), words)
    if shutil.which("pdftotext"):
        for name in (deck.HANDOUT, deck.SLIDES_PDF):
            command = ["pdftotext", str(out / name), "-"]
            text = subprocess.run(command, capture_output=True, check=True, text=True).stdout
            assert not wrong(re.sub(r"\s+", " ", text), words), name


def test_the_film(studied):
    found, words = studied
    film = motion.Film(found.findings, motion.span(found.findings, None), size_px=(640, 360))
    film.frame(film.shown.end)
    shown = "\n".join(text.get_text() for text in film.figure.findobj(Text))
    assert not wrong(shown, words) and direction.ends(found.findings).far in shown


def test_the_files(studied, tmp_path):
    found, words = studied
    folder.write_tables(found.findings, tmp_path)
    for path in tmp_path.glob("*.csv"):
        if path.name != "spots.csv":
            assert not wrong(path.read_text(encoding="utf-8"), words), path.name
    told = json.loads((tmp_path / "comparison.json").read_text(encoding="utf-8"))
    assert not wrong("\n".join(told["sentences"]), words)
    assert told["direction"] == json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))["direction"]


# ------------------------------------------------------------------------------------------------ sentences of codes


# Of schedules and powers: true of either direction, or never said of what was heard.
_ELSEWHERE = (*Clock, *Told, Refused.CLOCK, Refused.POWER)


@pytest.mark.parametrize("code", [code for code in codes.ALL_CODES if code not in _ELSEWHERE])
def test_every_code_of_a_comparison(code):
    found = codes.replace(codes.FOUND, direction="heard")
    text = comparison.remark(Remark(code, codes.VALUES.get(code, {})), found, say=TERMINAL)
    assert not wrong(text, NOT_WHEN_HEARD)


def test_what_else_is_said_of_a_comparison():
    found = codes.replace(codes.FOUND, direction="heard")
    said = [comparison.left_out(why, found) for why in LeftOut]
    for method in Method:
        each = Estimate(method, -0.04, -1.0, 0.92, codes.VALUES.get(method, {}))
        said += [comparison.method(each, found, say=TERMINAL), comparison.caveat(each, found)]
    assert not wrong("\n".join(said), NOT_WHEN_HEARD)
    assert comparison.noise(found) == (direction.SIGNAL_AND_NOISE,) and comparison.noise(codes.FOUND) == ()


def test_fixed_texts_of_slides_have_the_same_names_and_values_to_fill_in():
    fields = re.compile(r"\{(\w+)\}")
    for name, text in texts.HEARD.items():
        # A text may leave a value out (of what others sent no power is told), never ask for one that nobody gives.
        assert set(fields.findall(text)) <= set(fields.findall(texts.SENT[name])), name
    heard = {**texts.SENT, **texts.HEARD}
    left = {name: text for name, text in heard.items() if wrong(text, NOT_WHEN_HEARD)}
    assert set(left) <= {"station.columns", "station.power", "station.budget", "question.title"}, left


def test_advice_for_listening():
    for way, words in ((HEARD, NOT_WHEN_HEARD), (SENT, NOT_WHEN_SENT)):
        assert not wrong("\n".join(plan.advice(way)).replace("on the air from", ""), words)
    assert len(plan.advice(HEARD)) == len(plan.advice(SENT))


@pytest.mark.parametrize("way", ["sent", "heard"])
def test_notes_name_the_end_that_they_speak_of(way):
    values = {"direction": way, "call": "EI4QTB", "rows": 2, "calls": {"EI9QUC": 2}}
    kinds = {"sent": ("receiver", "transmitter"), "heard": ("transmitter", "receiver")}[way]
    one_path = notes.note(notes.Note(NoteCode.ONE_PATH, values), TERMINAL)
    taken = notes.note(notes.Note(NoteCode.STATION_TAKEN, values), TERMINAL)
    aside = notes.note(notes.Note(NoteCode.OTHERS_SET_ASIDE, values), TERMINAL)
    assert f"only {kinds[0]}" in one_path and f"only {kinds[1]}" in taken and f"other {kinds[1]}s" in aside
    offered = {"controls": [{"call": "EI9QUC", "fit": "good", "distance_km": 34.0, "receivers": 41, "reports": 300}]}
    assert "--control EI9QUC" in notes.note(notes.Note(NoteCode.OTHERS_SET_ASIDE, values | offered), TERMINAL)


def test_what_is_wrong_with_the_station_s_own_cells():
    problem = dict.fromkeys(about_rows.PROBLEMS, "") | {
        "source": "a.csv", "line": 2, "rule": "tx-callsign-unreadable", "severity": "rejected", "value": "?",
        "kept_line": 0, "evidence": None,
    }  # fmt: skip
    table = pd.DataFrame([problem])
    assert about_rows.written(table, say=TERMINAL)["explanation"][0].startswith("Transmitter: ")
    assert about_rows.written(table, say=TERMINAL, way=HEARD)["explanation"][0].startswith("Station: ")


# -------------------------------------------------------------------------------------------------------- the tables


def test_columns_are_named_for_what_they_hold(heard, sent, tmp_path):
    """The sender's callsign must not stand under rx_call in a file."""
    folder.write_tables(heard.findings, tmp_path)
    spots = pd.read_csv(tmp_path / "spots.csv")
    assert set(spots["rx_call"]) == {"EI4QTB/P"} and spots["tx_call"].nunique() == 42
    assert (spots["rx_locator"] == "IO51es").all()
    made = {path.name for path in tmp_path.iterdir()}
    assert {"transmitters.csv", "transmitters.geojson"} <= made and not any(
        name.startswith("receivers") for name in made
    )
    far = pd.read_csv(tmp_path / "transmitters.csv")
    assert far["reports"].sum() == len(spots) and "tx_lon_deg" in far and "rx_call" not in far
    points = json.loads((tmp_path / "transmitters.geojson").read_text(encoding="utf-8"))["features"]
    assert len(points) == len(far) and points[0]["properties"]["tx_call"] == far["tx_call"][0]
    assert points[0]["geometry"]["coordinates"] == pytest.approx(far.loc[0, ["tx_lon_deg", "tx_lat_deg"]].tolist())
    assert direction.as_written(sent.spots, SENT) is sent.spots


def test_both_ends_of_the_day_change_places_with_the_columns(heard, tmp_path):
    """Solar noon at the station comes when its own longitude faces the sun, whatever its end is called."""
    folder.write_tables(heard.findings, tmp_path)
    spots = pd.read_csv(tmp_path / "spots.csv", parse_dates=["time_utc"])
    hour = spots["time_utc"].dt.hour + spots["time_utc"].dt.minute / 60
    solar = (hour - 9.625 / 15 + 3.1 / 60) % 24  # IO51es lies at 9.625 W; the equation of time of 2 May is 3.1 min
    assert np.abs(solar - spots["rx_solar_hour"]).max() < 0.02
    east = spots[spots["tx_lon_deg"] > 100]
    assert len(east) and (east["tx_day_night"] != "day").mean() > 0.5  # where it is night in May at 18 to 22 UTC


def test_the_power_of_the_others_is_used_and_none_is_stated_as_ones_own(heard):
    truth = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))["files"]["listening.csv"]
    assert heard.reach.all.overall.median_snr_at_1_w_db == pytest.approx(truth["median_snr_at_1_w_db"], abs=0.5)
    assert heard.findings.powers.at == "unknown" and heard.budgets == {}
    assert answers.powers(heard.findings) == [] and heard.comparison.power_difference_db is None


def test_powers_of_a_few_say_nothing_of_all(heard):
    from reach.measure.reach import reach
    from reach.radio import power

    def at_1_w(known: float) -> float:
        spots = heard.spots.reset_index(drop=True)
        blank = spots.assign(power_w=spots["power_w"].where(np.arange(len(spots)) < known * len(spots)))
        # Whole hours are looked up: rows of the same transmitter, band and hour share what is known of any.
        return reach(heard.tally, far_power_w=power.of_far_ends(blank)).all.overall.median_snr_at_1_w_db

    assert np.isnan(at_1_w(0.0)) and np.isnan(at_1_w(0.2)) and np.isfinite(at_1_w(0.9))


def test_the_comparison_of_receiving_antennas_finds_the_difference_in_snr(heard):
    """The vertical's signals are 4.3 dB stronger far away and its noise is 4 dB higher: about nothing is left there, while
    near by the wire is ahead by 5.6 dB and what the east adds."""
    assert heard.comparison.difference_db == pytest.approx(-4.4, abs=1.2)
    zones = {cell.start: cell.difference_db for cell in heard.comparison.cells if cell.by == "zone"}
    assert zones[0] < -4.0 < zones[3000]
