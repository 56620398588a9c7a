"""From a new study to what was understood of its files, by forms alone: what a user without scripts has. Its report: test_results.py."""

from __future__ import annotations

import csv
import html
import io
import re
import tomllib
import zipfile

from reach.desk.worker import ROWS_A_PAGE
from tests.desk.conftest import SAMPLES, Served, counts, sample, settled


def looked_at(served: Served, at: str) -> str:
    return settled(served, at, "Reading the files")


def test_a_study_is_a_folder_whose_comments_stay(served: Served) -> None:
    at = served.begin("Two antennas: May?")
    folder = served.folder / "Two-antennas-May"
    assert at == "/s/Two-antennas-May"
    study = folder / "study.toml"
    assert tomllib.loads(study.read_text())["title"] == "Two antennas: May?"
    study.write_text("# mine\n" + study.read_text())
    assert served.send(f"{at}/files", **{"evening.csv": sample("evening.csv")}).status == 303
    assert served.post(f"{at}/station", callsign="EI4QTB/P", locator="IO51es", power_w="2,5", title="May").status == 303
    told = study.read_text()
    assert told.startswith("# mine\n# A study for")
    assert tomllib.loads(told)["files"] == ["spots/evening.csv"]
    assert tomllib.loads(told)["station"] == {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": 2.5}
    assert (folder / "spots" / "evening.csv").read_bytes() == sample("evening.csv")
    assert "May</a>" in served.get("/").text


def test_rows_add_up_and_each_is_shown(served: Served) -> None:
    at = served.begin("messy")
    served.send(f"{at}/files", **{"messy.csv": sample("messy.csv")})
    page = looked_at(served, at)
    told = counts(page)
    rows = len(list(csv.reader(io.StringIO(sample("messy.csv").decode("utf-8", "replace"))))) - 1
    assert set(told) >= {"accepted", "rejected", "duplicates"}
    assert abs(sum(told.values()) - rows) < 20  # titles, totals and broken quotes count otherwise
    assert f"{sum(told.values()):,}".replace(",", " ") in page.replace("\u202f", " ").replace("\xa0", " ").replace(
        ",", " "
    )
    for fate, number in told.items():
        lines: set[tuple[str, ...]] = set()
        begin = 0
        while True:
            shown = settled(served, f"{at}/rows/{fate}?start={begin}", "Reading the files")
            names = re.findall(r'<th scope="col">([^<]*)</th>', shown)
            for row in re.findall(r"<tr>(<td>.*?)</tr>", shown, re.S):
                cells = dict(zip(names, re.findall(r"<td>(.*?)</td>", row, re.S), strict=True))
                lines.add((cells["source"], cells["line"]))
            begin += ROWS_A_PAGE
            if f"start={begin}" not in shown:
                break
        assert len(lines) == number, fate


def test_what_was_understood_is_said_and_can_be_corrected(served: Served) -> None:
    at = served.begin("columns")
    table = "t,a,b,c,f\n" + "".join(
        f"2026-05-0{1 + k % 9} 18:0{k % 10},IO9{k % 10}ab,K{k % 10}QRB,-{k % 20},14.05\n" for k in range(60)
    )
    served.send(f"{at}/files", **{"odd.csv": table.encode()})
    page = looked_at(served, at)
    assert "60 rows; commas between cells" in page
    answer = served.post(f"{at}/reading", file="odd.csv", **{"column-snr": "nothing"})
    page = looked_at(served, at) if answer.status == 303 else answer.text
    assert "nothing" in page and 'role="alert"' in page
    assert served.post(f"{at}/reading", file="odd.csv", zone="+01:00", **{"column-snr": "c"}).status == 303
    told = tomllib.loads((served.folder / "columns" / "study.toml").read_text())
    assert told["readings"] == [{"file": "odd.csv", "columns": {"snr": "c"}, "zone": "+01:00"}]
    assert "you said so" in looked_at(served, at)
    assert served.post(f"{at}/reading", file="odd.csv", zone="half past").status == 422
    assert served.post(f"{at}/reading", file="odd.csv").status == 303
    assert "readings" not in tomllib.loads((served.folder / "columns" / "study.toml").read_text())


def test_an_error_stands_beside_its_field(served: Served) -> None:
    at = served.begin("station")
    answer = served.post(f"{at}/station", callsign="EI4QTB", locator="IO5", power_w="much", title="x")
    assert answer.status == 422
    assert re.search(r'name="power_w" value="much"[^>]*aria-invalid="true"', answer.text)
    assert 'id="power_w-fault" role="alert"' in answer.text
    assert 'value="IO5"' in answer.text, "what was typed is still there"


def test_the_same_bytes_are_kept_once_and_other_bytes_get_another_name(served: Served) -> None:
    at = served.begin("twice")
    for content in (sample("weekend.csv"), sample("weekend.csv"), sample("evening.csv")):
        assert served.put(f"{at}/files/log.csv", content).status == 204
    spots = served.folder / "twice" / "spots"
    assert {path.name: path.read_bytes() for path in spots.iterdir()} == {
        "log.csv": sample("weekend.csv"),
        "log-2.csv": sample("evening.csv"),
    }
    assert tomllib.loads((spots.parent / "study.toml").read_text())["files"] == ["spots/log.csv", "spots/log-2.csv"]


def test_a_file_is_taken_out_and_put_back(served: Served) -> None:
    at = served.begin("out")
    served.put(f"{at}/files/a.csv", sample("weekend.csv"))
    served.put(f"{at}/files/b.csv", sample("evening.csv"))
    both = sum(counts(looked_at(served, at)).values())
    assert served.post(f"{at}/take-out", entry="spots/a.csv").status == 303
    folder = served.folder / "out"
    assert (folder / "taken-out" / "a.csv").read_bytes() == sample("weekend.csv")
    assert not (folder / "spots" / "a.csv").exists()
    assert 0 < sum(counts(looked_at(served, at)).values()) < both
    assert served.post(f"{at}/put-back", name="a.csv").status == 303
    assert (folder / "spots" / "a.csv").read_bytes() == sample("weekend.csv")
    assert sum(counts(looked_at(served, at)).values()) == both


def test_an_archive_of_many_is_read(served: Served) -> None:
    at = served.begin("archive")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name in ("evening.csv", "weekend.csv"):
            archive.writestr(name, sample(name))
    served.put(f"{at}/files/all.zip", packed.getvalue())
    page = looked_at(served, at)
    assert "all.zip/evening.csv" in page and "all.zip/weekend.csv" in page


def test_a_file_that_is_no_table_is_a_sentence(served: Served) -> None:
    at = served.begin("no table")
    served.put(f"{at}/files/picture.csv", bytes(range(256)) * 50)
    page = looked_at(served, at)
    assert re.search(r'class="fault" role="alert">picture\.csv', page)
    assert served.put(f"{at}/files/empty.csv", b"").status == 422


def test_the_samples_lie_where_the_tests_look() -> None:
    assert (SAMPLES / "evening.csv").is_file()


def test_what_a_file_does_not_tell_is_asked_for_by_the_fields_of_the_screens(served: Served) -> None:
    """And not by options of the command line: columns, zones and dates, the place, whose rows they are."""
    rows = [f"{d},DL{k}QTC,JN58td,-1{k},20m" for k, d in enumerate(["03/05/2026 20:02"] * 7, 1)]
    zone = [row.replace("03/05/2026", "2026-05-03") for row in rows]
    files = {
        "order.csv": "\n".join(["Time,Who,Grid,dB,Band", *rows]),
        "zone.csv": "\n".join(["Local time,Who,Grid,dB,Band", *zone]),
        "columns.csv": "\n".join(["Time,Who,Grid", *(",".join(row.split(",")[:3]) for row in zone)]),
    }
    at = served.begin("unclear")
    served.send(f"{at}/files", **{name: text.encode() for name, text in files.items()})
    page = html.unescape(looked_at(served, at))
    fault = re.search(r'<p class="fault" role="alert">(.*?)</p>', page, re.S)
    assert fault is not None
    for label in ("03/05/2026 is", "Zone of its times", "Column with the SNR"):
        assert f"'{label}' on Files" in fault[1] and f">{label}" in page, fault[1]
    assert "--" not in fault[1]
    at = served.begin("whose")
    served.send(f"{at}/files", **{"shared.csv": sample("shared.csv")})
    asked = html.unescape(looked_at(served, at))
    assert "say whose with the field 'Callsign' on Station and setups" in asked
    assert ">Callsign</label>" in served.get(f"{at}/station").text
    told = {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": "5", "title": "whose", "direction": "sent"}
    assert served.post(f"{at}/station", **told).status == 303
    shown = html.unescape(looked_at(served, at))
    assert "a tick beside EI9QUC under 'Stations that may serve' on Controls and weeks" in shown
    assert "Choose controls here" in shown and "--" not in re.sub(r"<!--.*?-->|<[^>]*>", "", shown)
