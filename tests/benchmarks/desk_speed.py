"""The desk as a user waits for it: from the start of the process to the first page, from a dropped file to what was understood, and
what the server holds while 200 MB arrive.

    python -m tests.benchmarks.desk_speed

Seconds are by the clock; on a machine that does other things they are upper bounds. No browser takes part: a page is there when
all of it has come.
"""

from __future__ import annotations

import http.client
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.big_export import write
from tests.desk.conftest import Served, end, enter, sample, start

STARTS = 5
LARGE = 200_000
ARRIVING_MB = 200
PIECE = 1 << 20


def started() -> float:
    """Seconds from the start of the process to the list of studies."""
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        served = enter(start(Path(folder) / "Reach"))
        served.get("/")
        took = time.perf_counter() - began
        end(served)
    return took


def understood(served: Served, title: str, content: bytes) -> float:
    """Seconds from sending a file to the screen that says what was understood."""
    at = served.begin(title)
    began = time.perf_counter()
    assert served.put(f"{at}/files/spots.csv", content).status == 204
    while "rows read" not in (page := served.get(at).text):
        assert "Reading the files" in page, page
        time.sleep(0.02)
    return time.perf_counter() - began


def memory_mb(served: Served, key: str) -> float:
    """Of the server: VmRSS now, VmHWM at its fullest."""
    told = Path(f"/proc/{served.process.pid}/status").read_text()
    return int(next(line for line in told.splitlines() if line.startswith(key)).split()[1]) / 1024


def arrive(served: Served) -> float:
    """Send ARRIVING_MB as a browser's script does; returns the seconds it took."""
    at = served.begin("arriving")

    def pieces() -> Iterator[bytes]:
        for number in range(ARRIVING_MB):
            yield bytes([number % 251]) * PIECE

    began = time.perf_counter()
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=300)
    head = {**served.own, "Content-Length": str(ARRIVING_MB * PIECE)}
    connection.request("PUT", f"{at}/files/large.bin", pieces(), head, encode_chunked=False)
    assert connection.getresponse().status == 204
    connection.close()
    return time.perf_counter() - began


def main() -> None:
    """Print the figures."""
    print(f"start to page: {statistics.median(started() for _ in range(STARTS)):.2f} s, median of {STARTS}")
    with tempfile.TemporaryDirectory() as folder:
        served = enter(start(Path(folder) / "Reach"))
        try:
            small = sample("evening.csv")
            first = understood(served, "first", small)
            print(f"{len(small.splitlines()) - 1:,} rows understood: {first:.2f} s by a worker that still loads")
            print(f"again: {statistics.median(understood(served, f'small {k}', small) for k in range(3)):.2f} s")
            path = Path(folder) / "large.csv"
            write(path, LARGE)
            large = path.read_bytes()
            took = statistics.median(understood(served, f"large {k}", large) for k in range(3))
            print(f"{LARGE:,} rows ({len(large) / 1e6:.0f} MB) understood: {took:.2f} s")
            print(f"server: {memory_mb(served, 'VmRSS'):.0f} MB")
            took = arrive(served)
            print(f"{ARRIVING_MB} MB arrive in {took:.1f} s; server at its fullest {memory_mb(served, 'VmHWM'):.0f} MB")
        finally:
            end(served)


if __name__ == "__main__":
    main()
