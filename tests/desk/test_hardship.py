"""What must not hurt: a page of another name that leads here, bombs, slow clients, a full disk, whatever is killed or put to sleep,
links, names that Windows keeps, formulas. Sources: OWASP, DNS rebinding; Microsoft, Naming Files, Paths, and Namespaces."""

from __future__ import annotations

import csv
import gzip
import io
import os
import re
import resource
import signal
import socket
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest

from reach.desk import names
from reach.desk.server import HEAD_S, MOST_CONNECTIONS
from reach.read import sources
from tests.desk.conftest import LARGEST_UNPACKED, Served, end, enter, few_pictures, sample, settled, start
from tests.page_browser import conftest as pages

needs_proc = pytest.mark.skipif(not os.path.isdir("/proc"), reason="processes are looked at in /proc")


def until(true: Callable[[], Any], within_s: float = 120) -> Any:
    """What it says, once that is true."""
    ends = time.monotonic() + within_s
    while time.monotonic() < ends:
        if said := true():
            return said
        time.sleep(0.1)
    raise AssertionError("it did not come to that")


def workers(served: Served) -> list[int]:
    """The processes that the server started."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            told = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(told[1]) == served.process.pid and told[0] != "Z":
            found.append(int(stat.parent.name))
    return found


def begun(served: Served, title: str, content: bytes | None = None) -> str:
    at = served.begin(title)
    served.put(f"{at}/files/weekend.csv", content or sample("weekend.csv"))
    said = {"callsign": "", "locator": "IO51es", "power_w": "5", "title": title, "direction": "sent"}
    assert served.post(f"{at}/station", **said).status == 303
    return at


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    """A server of the test's own."""
    served = enter(start(tmp_path / "Reach", afresh=True))
    yield served
    if served.process.poll() is None:
        os.kill(served.process.pid, signal.SIGCONT)
        end(served)


@pytest.fixture
def forked(tmp_path: Path) -> Iterator[Served]:
    """The same, for a test that ends no process."""
    served = enter(start(tmp_path / "Reach"))
    yield served
    end(served)


# --- from other pages -----------------------------------------------------------------------------------------------------


def test_a_name_that_is_made_to_lead_here_gets_nothing(launch: Callable[..., Any], served: Served) -> None:
    """Rebinding: a page elsewhere whose name leads to this machine from its second question on."""
    begun(served, "secret study")
    flags = [flag for flag in pages.FLAGS if not flag.startswith("--host-resolver-rules")]
    browser = launch([*flags, "--host-resolver-rules=MAP evil.example 127.0.0.1, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"])
    try:
        context = browser.new_context()
        context.add_cookies(
            [{"name": f"reach-{served.port}", "value": served.cookie.partition("=")[2], "url": served.origin}]
        )
        page = context.new_page()
        for path in ("/", "/s/secret-study", "/open?key=x", "/assets/desk.css"):
            answer = page.goto(f"http://evil.example:{served.port}{path}")
            assert answer is not None and answer.status == 421
            assert page.inner_text("body").strip() == "This address is not served here."
        posted = page.evaluate(
            "() => fetch('/studies', { method: 'POST', body: new URLSearchParams({ title: 'evil' }) }).then((r) => r.status)"
        )
        assert posted == 421 and not (served.folder / "evil").exists()
    finally:
        browser.close()


def test_a_file_is_dropped_on_the_box(visit: Any, desk: Served) -> None:
    at = visit()
    at.begin("Dropped")
    page = at.page
    page.get_by_text("or drop them here").wait_for()
    dropped = page.evaluate_handle(
        """(texts) => {
            const held = new DataTransfer();
            for (const [name, text] of texts) held.items.add(new File([text], name, { type: "text/csv" }));
            return held;
        }""",
        [["weekend.csv", sample("weekend.csv").decode()], ["empty.csv", ""]],
    )
    page.dispatch_event("form.drop", "dragover", {"dataTransfer": dropped})
    assert "over" in (page.get_attribute("form.drop", "class") or "").split()
    page.dispatch_event("form.drop", "drop", {"dataTransfer": dropped})
    page.get_by_text("empty.csv: is empty.").wait_for()
    page.reload()
    at.settled()
    assert [path.name for path in (desk.folder / "Dropped" / "spots").iterdir()] == ["weekend.csv"]
    at.complaints = [each for each in at.complaints if "422" not in each]


# --- too much ----------------------------------------------------------------------------------------------------------------


def test_a_bomb_is_a_sentence(served: Served) -> None:
    at = served.begin("bombs")
    assert sources.LARGEST_UNPACKED == 1 << 31, "as a user has it"
    bomb = gzip.compress(b"a,b\n" * (1 << 20), 9) * (LARGEST_UNPACKED // (1 << 22) + 1)  # a hundredth of that
    assert len(bomb) < LARGEST_UNPACKED // 100
    many = io.BytesIO()
    with zipfile.ZipFile(many, "w") as archive:
        for number in range(1001):
            archive.writestr(f"{number}.csv", "a")
    for name, content, said in (
        ("bomb.csv.gz", bomb, "is more than 0.25 GiB"),
        ("many.zip", many.getvalue(), "1,001 files"),
    ):
        served.put(f"{at}/files/{name}", content)
        page = settled(served, at, "Reading the files")
        assert re.search(rf'role="alert">[^<]*{said}', page), page
        assert served.post(f"{at}/take-out", entry=f"spots/{name}").status == 303


def test_slow_clients_do_not_keep_the_user_out(forked: Served) -> None:
    held = []
    for _ in range(MOST_CONNECTIONS + 20):
        line = socket.create_connection(("127.0.0.1", forked.port), timeout=20)
        line.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ")
        held.append(line)
    try:
        until(lambda: forked.get("/").status == 200, 2 * HEAD_S + 30)
        held[0].settimeout(2 * HEAD_S + 30)
        assert held[0].recv(100) == b"" or b"503" in held[0].recv(100), "it was let go"
    finally:
        for line in held:
            line.close()
    slow = socket.create_connection(("127.0.0.1", forked.port), timeout=3 * HEAD_S)
    with slow:  # a byte now and then does not help
        began = time.monotonic()
        try:
            while time.monotonic() - began < 3 * HEAD_S:
                slow.sendall(b"G")
                time.sleep(0.5)
            raise AssertionError("it was not let go")
        except OSError:
            assert time.monotonic() - began > HEAD_S / 2


def test_a_head_without_an_end_is_refused(served: Served) -> None:
    with socket.create_connection(("127.0.0.1", served.port), timeout=20) as line:
        line.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nX: ")
        try:
            for _ in range(200):
                line.sendall(b"y" * 10_000)
            told = line.recv(100)
        except OSError:
            told = b""
        assert told == b"" or told.split()[1] in (b"400", b"431")
    assert served.get("/").status == 200


@needs_proc
def test_a_full_disk_is_said_and_loses_nothing(forked: Served) -> None:
    at = begun(forked, "full")
    folder = forked.folder / "full"
    until(lambda: "rows read" in forked.get(at).text)
    before = {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    forked.get(f"{at}/station")
    for pid in [forked.process.pid, *workers(forked)]:
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (1000, resource.RLIM_INFINITY))  # type: ignore[attr-defined]
    answer = forked.put(f"{at}/files/evening.csv", sample("evening.csv"))
    assert answer.status == 507 and "cannot be read or written" in answer.text
    forked.post(f"{at}/run")
    page = settled(forked, f"{at}/results", "/cancel")
    assert re.search(r'class="fault" role="alert">[^<]*(written|File too large)', page)
    answer = forked.post(
        f"{at}/station", callsign="", locator="IO51es", power_w="3", title="other" * 300, direction="sent"
    )
    assert answer.status == 422 and "written" in answer.text
    assert {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    for pid in [forked.process.pid, *workers(forked)]:
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)  # type: ignore[attr-defined]
    assert forked.put(f"{at}/files/evening.csv", sample("evening.csv")).status == 204


# --- killed, asleep ------------------------------------------------------------------------------------------------------------


@needs_proc
def test_killed_in_the_middle_the_next_start_goes_on(tmp_path: Path) -> None:
    own = enter(start(tmp_path / "Reach", afresh=True))
    at = begun(own, "killed")
    folder = own.folder / "killed"
    before = {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    own.post(f"{at}/run")
    until(lambda: (folder / "outputs").is_dir() and list((folder / "outputs").iterdir()))
    left = workers(own)
    own.process.kill()
    own.process.wait(20)
    assert own.process.stdout is not None
    own.process.stdout.close()
    until(lambda: not [pid for pid in left if Path(f"/proc/{pid}").exists() and _alive(pid)], 60)
    again = enter(start(tmp_path / "Reach", afresh=True))
    try:
        assert "killed</a>" in again.get("/").text
        now = {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        assert {name: now[name] for name in before} == before
        again.post(f"{at}/take-out", entry="spots/weekend.csv")
        again.put(f"{at}/files/few.csv", few_pictures())
        again.post(f"{at}/run")
        page = settled(again, f"{at}/results", "/cancel")
        assert "Open the report" in page
        assert [path.name for path in (folder / "outputs").iterdir()] == ["killed"], "what was half written is gone"
    finally:
        end(again)


def _alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@needs_proc
def test_a_killed_worker_is_said_and_another_takes_over(own: Served) -> None:
    at = begun(own, "worker")
    until(lambda: "rows read" in own.get(at).text)
    own.post(f"{at}/run")
    until(lambda: "/cancel" in own.get(f"{at}/results").text)
    for pid in workers(own):
        os.kill(pid, signal.SIGKILL)
    page = settled(own, f"{at}/results", "/cancel")
    assert "has ended, perhaps for want of memory; nothing was changed. Try again." in page
    (own.folder / "worker" / "note.txt").write_text("another stamp")
    until(lambda: "rows read" in own.get(at).text)


@needs_proc
def test_asleep_in_the_middle_it_goes_on(tmp_path: Path) -> None:
    """A machine that sleeps while a report is made, for longer than an unused page is waited for: pages had no chance to give a sign."""
    code = (
        "from pathlib import Path; import sys; from reach.desk import server; "
        "server.serve(Path(sys.argv[1]), browser=False, told=lambda said: print(said, flush=True), unused_s=8)"
    )
    process = psutil.Popen([sys.executable, "-c", code, str(tmp_path / "Reach")], stdout=subprocess.PIPE, text=True)
    link = process.stdout.readline().removeprefix("Open ").strip()
    own = enter(Served(process, tmp_path / "Reach", link, int(link.split(":")[2].split("/")[0])))
    try:
        at = begun(own, "asleep", few_pictures(30))
        own.post(f"{at}/run")
        outputs = own.folder / "asleep" / "outputs"
        until(lambda: outputs.is_dir() and [*outputs.glob(".asleep.reach-*/*")])
        all_of_it = [process, *process.children(recursive=True)]
        for each in all_of_it:
            each.suspend()
        time.sleep(12)
        assert not (outputs / "asleep").exists(), "it was in the middle"
        for each in all_of_it:
            each.resume()
        time.sleep(2)
        page = settled(own, f"{at}/results", "/cancel")
        assert process.is_running() and "Open the report" in page
        assert [path.name for path in outputs.iterdir()] == ["asleep"]
    finally:
        for each in [process, *process.children(recursive=True)]:
            each.resume()
        end(own)


def test_two_started_at_once_serve_one_folder_once(tmp_path: Path) -> None:
    asked = [sys.executable, "-m", "reach", "desk", "--folder", str(tmp_path / "Reach"), "--no-browser"]
    both = [subprocess.Popen(asked, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    try:
        first = [process.stdout.readline() for process in both if process.stdout]
        assert sorted(line.split()[0] for line in first) == ["Open", "The"]
        assert sum("are open already" in line for line in first) == 1
        until(lambda: [process.poll() for process in both].count(None) == 1)
    finally:
        for process in both:
            process.terminate()
            process.wait(30)
            assert process.stdout is not None
            process.stdout.close()


# --- names, links, formulas ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    ["CON", "con.csv", "Aux.csv.gz", "COM1.csv", "com\u00b9.csv", "LPT\u00b3", "nul .csv", "a.csv.", "a.csv ", "a:b.csv", "a?.csv", "CONIN$",
     "COM0", "prn.tar.gz", "\\\\?\\C:\\x.csv", "a.csv::$DATA"],
)  # fmt: skip
def test_names_that_windows_keeps_become_others(name: str) -> None:
    found = names.plain(name, otherwise="spots.csv")
    stem = found.split(".")[0].casefold()
    kept = {"con", "prn", "aux", "nul", "conin$", "conout$"}
    kept |= {f"{port}{digit}" for port in ("com", "lpt") for digit in "0123456789\u00b9\u00b2\u00b3"}
    assert stem not in kept and found == found.rstrip(". ") and not set(found) & set('<>:"/\\|?*$')


def test_capital_letters_do_not_make_two_files(served: Served) -> None:
    at = served.begin("capitals")
    served.put(f"{at}/files/Log.csv", sample("weekend.csv"))
    served.put(f"{at}/files/log.CSV", sample("evening.csv"))
    assert sorted(path.name for path in (served.folder / "capitals" / "spots").iterdir()) == ["Log.csv", "log-2.CSV"]


def test_links_among_the_exports_lead_nowhere(served: Served, tmp_path: Path) -> None:
    at = served.begin("links")
    outside = tmp_path / "outside.csv"
    outside.write_bytes(sample("weekend.csv"))
    served.put(f"{at}/files/own.csv", sample("evening.csv"))
    folder = served.folder / "links"
    (folder / "spots" / "weekend.csv").symlink_to(outside)
    before = outside.read_bytes()
    assert served.put(f"{at}/files/weekend.csv", b"time,callsign\nx,y\n").status == 204
    assert outside.read_bytes() == before, "what the link leads to is not written over"
    (folder / "taken-out").mkdir()
    (folder / "taken-out" / "secret.csv").symlink_to(outside)
    assert "secret.csv" not in served.get(at).text
    served.post(f"{at}/put-back", name="secret.csv")
    assert not (folder / "spots" / "secret.csv").exists() and outside.read_bytes() == before


def test_no_cell_of_what_is_downloaded_is_a_formula(brief: Served) -> None:
    at = brief.begin("formulas")
    evil = ("=HYPERLINK(1)", "+1+cmd|' /C calc'!A0", "@SUM(1)", "-2+3", "\t=1")
    rows = [f"2026-05-16 18:{k:02},G{k % 10}QRA,JN58td,-{k % 20},20m,EI4QTB" for k in range(40)]
    rows += [f'2026-05-16 19:{k:02},"{text}","{text}",-10,20m,EI4QTB' for k, text in enumerate(evil)]
    brief.put(f"{at}/files/evil.csv", ("time,callsign,locator,snr,band,transmitter\n" + "\n".join(rows)).encode())
    brief.post(f"{at}/station", callsign="EI4QTB", locator="IO51es", power_w="5", title="formulas", direction="sent")
    brief.post(f"{at}/run")
    page = settled(brief, f"{at}/results", "/cancel")
    listed = sorted(set(re.findall(rf'href="({at}/outputs/[^"]*\.csv)\?download"', page)))
    assert len(listed) >= 3, page
    seen = 0
    for address in listed:
        for row in csv.reader(io.StringIO(brief.get(f"{address}?download").text)):
            for cell in row:
                seen += "HYPERLINK" in cell
                assert not re.match(r"[=@\t]|[+-](?![\d., ]*(e[-+]?\d+)?$)", cell) or cell == "-", cell
    assert seen, "the cells came as far as the files"


def test_an_upload_that_breaks_off_leaves_nothing_and_is_no_bug(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    served = enter(start(tmp_path / "Reach"))
    try:
        at = served.begin("broken off")
        before = sorted(served.folder.rglob("*"))
        head = [
            f"PUT {at}/files/one.csv HTTP/1.1",
            "Host: " + served.origin.removeprefix("http://"),
            "Content-Length: 99999",
        ]
        head += [f"{name}: {value}" for name, value in served.own.items()]
        with socket.create_connection(("127.0.0.1", served.port), timeout=20) as line:
            line.sendall("\r\n".join([*head, "", "time,call"]).encode())
            until(lambda: sorted(served.folder.rglob("*")) != before)  # it has begun to arrive
        until(lambda: sorted(served.folder.rglob("*")) == before)
        assert served.get(at).status == 200
        assert not list(tmp_path.glob("reach-bug-*"))
    finally:
        end(served)
