"""Who may ask: nobody without the key, nobody from another page, nothing outside the folder.

Sources of what is tried: W3C (2021), Fetch Metadata Request Headers; OWASP, Cross-Site Request Forgery Prevention; WHATWG Fetch.
"""

from __future__ import annotations

import os
import re
import socket
import stat
import subprocess
import sys
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from tests.desk.conftest import Served, end, enter, sample, start

SCREENS = ("/", "/s/x", "/s/x/results", "/assets/desk.css", "/s/x/outputs/x/report.html")


@pytest.mark.parametrize("path", SCREENS)
def test_nothing_is_shown_without_the_key(served: Served, path: str) -> None:
    assert served.raw("GET", path).status == 403
    assert served.raw("GET", path, headers={"Cookie": f"reach-{served.port}=guessed"}).status == 403


def test_the_key_serves_once_and_gives_a_strict_cookie(tmp_path: Path) -> None:
    served = start(tmp_path / "Reach", afresh=True)
    try:
        told = urlsplit(served.link)
        assert served.raw("GET", "/open?key=guessed").status == 403
        first = served.raw("GET", f"{told.path}?{told.query}")
        assert first.status == 200
        cookie = first.headers["set-cookie"]
        assert "HttpOnly" in cookie and "samesite=strict" in cookie.lower() and "domain" not in cookie.lower()
        assert served.raw("GET", f"{told.path}?{told.query}").status == 403
    finally:
        end(served)


@pytest.mark.parametrize(
    "host",
    ["example.org", "127.0.0.1", "localhost:{port}", "127.0.0.1:{port}.example.org", "0.0.0.0:{port}", "[::1]:{port}",
     "127.1:{port}", "", "example.org:{port}"],
)  # fmt: skip
def test_another_host_is_refused(served: Served, host: str) -> None:
    answer = served.raw("GET", "/", headers={**served.own, "Host": host.format(port=served.port)})
    assert answer.status in (400, 421)


def test_two_hosts_or_an_absolute_address_are_refused(served: Served) -> None:
    me = f"127.0.0.1:{served.port}"
    for request in (
        f"GET / HTTP/1.1\r\nHost: {me}\r\nHost: example.org\r\nCookie: {served.cookie}\r\n\r\n",
        f"GET http://example.org/ HTTP/1.1\r\nHost: {me}\r\nCookie: {served.cookie}\r\n\r\n",
    ):
        with socket.create_connection(("127.0.0.1", served.port), timeout=20) as line:
            line.sendall(request.encode())
            assert line.recv(200).split()[1] in (b"400", b"421")


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",
        "http://example.org",
        "http://127.0.0.1:1",
        "https://127.0.0.1:{port}",
        "file://",
        "http://localhost:{port}",
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT"])
def test_a_change_comes_from_our_own_page_only(served: Served, origin: str | None, method: str) -> None:
    headers = {
        "Cookie": served.cookie,
        "Sec-Fetch-Site": "same-origin",
        "Content-Type": "application/x-www-form-urlencoded",
    }
    if origin is not None:
        headers["Origin"] = origin.format(port=served.port)
    before = sorted(served.folder.iterdir())
    assert served.raw(method, "/studies", b"title=evil", headers).status == 403
    assert sorted(served.folder.iterdir()) == before


@pytest.mark.parametrize("site", ["cross-site", "same-site", "other"])
def test_another_page_gets_nothing(served: Served, site: str) -> None:
    assert served.raw("GET", "/", headers={"Cookie": served.cookie, "Sec-Fetch-Site": site}).status == 403
    assert served.raw("POST", "/alive", b"", {**served.own, "Sec-Fetch-Site": site}).status == 403


@pytest.mark.parametrize("method", ["OPTIONS", "TRACE", "PATCH", "DELETE", "CONNECT"])
def test_other_methods_are_refused(served: Served, method: str) -> None:
    assert served.raw(method, "/", headers=served.own).status in (400, 405)


def test_every_answer_says_what_a_browser_is_to_know(served: Served) -> None:
    for answer in (served.get("/"), served.get("/nothing"), served.raw("GET", "/")):
        assert answer.headers["content-security-policy"].startswith(
            "default-src 'none'; script-src 'self'; style-src 'self'"
        )
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "same-origin"
        assert answer.headers["cache-control"] == "no-store"
        assert "access-control-allow-origin" not in answer.headers and "server" not in answer.headers


def test_names_from_outside_lead_nowhere(served: Served) -> None:
    at = served.begin("border")
    served.put(f"{at}/files/a.csv", sample("weekend.csv"))
    outside = served.folder.parent / "outside.txt"
    outside.write_text("outside")
    for name in ("../../outside.txt", "..%2f..%2f..%2foutside.txt", "%2e%2e/%2e%2e/outside.txt", "/etc/passwd", "..%5c..%5coutside.txt",
                 "....//outside.txt", "%00", "study.toml", "spots/a.csv", "..%2f..%2fstudy.toml"):  # fmt: skip
        for report in ("border", "..", "%2e%2e"):
            assert served.get(f"{at}/outputs/{report}/{name}").status in (400, 404), name
    for study in ("..", "%2e%2e", "border%2f..", "%2fetc", ".", "border%00"):
        assert served.get(f"/s/{study}").status in (307, 400, 404), study
    assert served.post(f"{at}/take-out", entry="../../outside.txt").status == 303
    assert served.post(f"{at}/put-back", name="../../../outside.txt").status == 303
    assert outside.read_text() == "outside"


HOSTILE = (
    "../../up.csv", "/abs.csv", "C:\\Users\\x.csv", "\\\\host\\share\\unc.csv", ".hidden.csv", "-rf.csv", "*.csv", "[a].csv",
    "con.csv", "NUL", "a\u202ecsv.exe.csv", "x" * 300 + ".csv", "\u00e4" * 200 + ".csv", "...", "a;b|c&d.csv", "tr\u00fcb.csv.",
)  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_become_plain_ones(name: str) -> None:
    from reach.desk import names

    found = names.plain(name, otherwise="spots.csv")
    assert 0 < len(found.encode()) <= 200
    assert found[0].isalnum() and found[-1].isalnum()
    assert all(letter.isalnum() or letter in "._-" for letter in found)
    assert found.split(".")[0].lower() not in ("con", "nul", "aux", "prn", "com1", "lpt1")
    assert names.plain(found, otherwise="x") == found


def test_hostile_titles_and_names_stay_on_the_shelf(served: Served) -> None:
    before = {path.name for path in served.folder.parent.iterdir()}
    begun = []
    for title in ("../../up", "/etc", "con", "<script>alert(1)</script>", "a\nb = 1", '"""\n[station]\ncallsign = "X"'):
        at = served.begin(title)
        begun.append(at.rpartition("/")[2])
        assert served.get(at).status == 200
        page = served.get("/").text
        assert "<script>alert" not in page
    import tomllib

    for name in begun:
        study = tomllib.loads((served.folder / unquote(name) / "study.toml").read_text())
        assert study.get("station", {}).get("callsign", "") == ""
    assert {path.name for path in served.folder.parent.iterdir()} <= before | {"outside.txt"}


def test_what_is_too_large_is_refused_before_it_comes(served: Served) -> None:
    at = served.begin("large")
    for path, size in ((f"{at}/files/x.csv", 5 << 30), ("/studies", 2 << 20)):
        with socket.create_connection(("127.0.0.1", served.port), timeout=20) as line:
            head = "".join(f"{name}: {value}\r\n" for name, value in served.own.items())
            method = "PUT" if "files" in path else "POST"
            line.sendall(
                f"{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n{head}Content-Length: {size}\r\n\r\n".encode()
            )
            assert line.recv(200).split()[1] == b"413"


def test_half_an_upload_leaves_nothing(served: Served) -> None:
    at = served.begin("half")
    with socket.create_connection(("127.0.0.1", served.port), timeout=20) as line:
        head = "".join(f"{name}: {value}\r\n" for name, value in served.own.items())
        line.sendall(
            f"PUT {at}/files/x.csv HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n{head}Content-Length: 1000\r\n\r\nhalf".encode()
        )
    folder = served.folder / "half"
    for _ in range(100):
        if [path.name for path in folder.iterdir()] == ["study.toml"]:
            break
        __import__("time").sleep(0.05)
    assert [path.name for path in folder.iterdir()] == ["study.toml"]


def test_only_this_machine_reaches_it(served: Served) -> None:
    assert stat.S_IMODE(served.folder.stat().st_mode) == 0o700
    door = served.folder / "Open reach.html"
    assert stat.S_IMODE(door.stat().st_mode) == 0o600
    with socket.socket() as line:
        line.settimeout(2)
        assert line.connect_ex(("127.0.0.2", served.port)) != 0, "bound to one address"


@pytest.mark.skipif(not os.path.isdir("/proc"), reason="processes are looked at in /proc")
def test_no_command_line_shows_a_key(served: Served) -> None:
    key = served.link.partition("key=")[2]
    told = (served.folder / "Open reach.html").read_text().partition("key=")[2].partition('"')[0]
    for line in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            shown = line.read_bytes()
        except OSError:
            continue
        assert key.encode() not in shown and told.encode() not in shown


def test_a_second_server_leads_to_the_first(served: Served) -> None:
    second = subprocess.run(
        [sys.executable, "-m", "reach", "desk", "--folder", str(served.folder), "--no-browser"],
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert second.returncode == 0
    assert "are open already" in second.stdout and "Open reach.html" in second.stdout
    assert served.get("/").status == 200


def test_closed_by_its_button_it_leaves_nothing_behind(tmp_path: Path) -> None:
    served = enter(start(tmp_path / "Reach", afresh=True))
    assert (served.folder / "Open reach.html").exists()
    assert "reach has ended" in served.post("/quit").text
    assert served.process.wait(20) == 0
    assert served.process.stdout is not None
    served.process.stdout.close()
    assert [path.name for path in served.folder.iterdir()] == [".reach-desk.lock"]


def test_unused_it_ends_itself(tmp_path: Path) -> None:
    code = "from pathlib import Path; import sys; from reach.desk import server; server.serve(Path(sys.argv[1]), browser=False, unused_s=1)"
    ended = subprocess.run([sys.executable, "-c", code, str(tmp_path / "Reach")], timeout=60, capture_output=True)
    assert ended.returncode == 0, ended.stderr


def test_the_server_loads_nothing_heavy() -> None:
    from tests.test_layers import HEAVY

    code = "import sys, reach.desk.server; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert "starlette" in loaded
    assert not set(loaded) & (HEAVY | {"pydantic"})


def test_the_colours_are_those_of_the_style() -> None:
    from importlib.resources import files

    from reach.tell.page import looks

    css = files("reach.desk").joinpath("assets", "desk.css").read_text(encoding="utf-8")
    assert css.startswith(looks.css() + "\n")


@pytest.mark.parametrize("name", ["desk.css", "on-air.css", "station.css"])
def test_a_narrow_window_changes_no_colour_and_dark_nothing_else(name: str) -> None:
    """So that axe, which judges colours of text alone, need not look at every theme in every width."""
    from importlib.resources import files

    css = files("reach.desk").joinpath("assets", name).read_text(encoding="utf-8")
    found = blocks(css)
    assert len(found) == css.count("@media")
    for condition, block in found:
        said = set(re.findall(r"([-\w]+)\s*:(?=[^{}]*[;}])", re.sub(r"[^{};]*\{", "{", block)))
        if "prefers-color-scheme" in condition:
            assert said <= {"color-scheme"} | {each for each in said if each.startswith("--")}, condition
        elif "width" in condition:
            colours = {each for each in said if re.search("color|background|fill|stroke|shadow|opacity|^--", each)}
            assert said and not colours, condition


def blocks(css: str) -> list[tuple[str, str]]:
    """Each condition of a sheet with what holds under it."""
    found = []
    for head in re.finditer(r"@media ([^{]*)\{", css):
        depth, end = 1, head.end()
        while depth:
            depth += {"{": 1, "}": -1}.get(css[end], 0)
            end += 1
        found.append((head[1].strip(), css[head.end() : end - 1]))
    return found
