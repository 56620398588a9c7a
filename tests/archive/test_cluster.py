"""Files added by a Dask cluster of real processes: the collection is to the byte what one process makes of them."""

from __future__ import annotations

import os
import pickle
import shutil
import signal
import sys
import threading
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest
from click.testing import CliRunner

from reach.archive import cluster, collection, ledger
from reach.cli import reach
from reach.errors import ClusterError, InputError
from reach.read.understood import Unclear
from tests.archive.test_transmitters import CALLS, of_many, run

distributed = pytest.importorskip("distributed")

SAMPLES = Path(__file__).parents[2] / "sample_spots"
STATION = ("--callsign", "EI4QTB/P", "--locator", "IO51es", "--power", "5")


@pytest.fixture(scope="module")
def there() -> Iterator[Any]:
    """A cluster of somebody's: two workers of one thread, each a process that is started again when it dies."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0", silence_logs=50
    ) as started:
        yield started


@pytest.fixture
def address(there) -> str:
    return there.scheduler_address


def files(folder: Path) -> list[str]:
    """One of each kind: of two stations, a name twice, an archive, one with errors, and one under another name again."""
    for name in ("a", "b"):
        (folder / name).mkdir()
    shutil.copy(SAMPLES / "shared.csv", folder / "a" / "log.csv")
    shutil.copy(SAMPLES / "weekend.csv", folder / "b" / "log.csv")
    shutil.copy(SAMPLES / "shared.csv", folder / "again.csv")
    with zipfile.ZipFile(folder / "two.zip", "w") as packed:
        for name in ("evening.csv", "messy.csv"):
            packed.writestr(zipfile.ZipInfo(name), (SAMPLES / name).read_bytes())
    return [str(folder / name) for name in ("a/log.csv", "b/log.csv", "again.csv", "two.zip")]


def add(home: Path, names: list[str], *more: str) -> str:
    done = CliRunner().invoke(
        reach, ["add", *names, "--to", str(home), *STATION, *more], catch_exceptions=False, standalone_mode=False
    )
    return done.output


def bytes_of(home: Path) -> dict[str, bytes]:
    return {str(path.relative_to(home)): path.read_bytes() for path in sorted(home.rglob("*")) if path.is_file()}


@pytest.fixture(scope="module")
def named(tmp_path_factory) -> list[str]:
    return files(tmp_path_factory.mktemp("files"))


@pytest.fixture(scope="module")
def alone(tmp_path_factory, named) -> tuple[str, dict[str, bytes]]:
    """What one process says and makes of the files."""
    home = tmp_path_factory.mktemp("alone") / "c"
    return add(home, named), bytes_of(home)


def test_a_cluster_makes_the_same_bytes_and_says_the_same(tmp_path, named, alone, address):
    said, made = alone
    assert "again.csv: is in the collection already" in said and "log.csv (2): 1,5" in said
    assert add(tmp_path / "c", named, "--cluster", address) == said
    assert bytes_of(tmp_path / "c") == made
    assert add(tmp_path / "c", named, "--cluster", address).count("nothing was added") == 4
    assert bytes_of(tmp_path / "c") == made


def dies_once(path: Path, place: Path, **more: Any) -> Any:
    """The worker's function, whose process is killed between two parts of a file, the first time it comes there."""
    mark, write = place.parent.parent / "died", collection._write

    def killed_after(*args: Any) -> None:
        write(*args)
        if not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)

    collection._write = killed_after
    try:
        return cluster._adds(path, place, **more)
    finally:
        collection._write = write


@pytest.mark.skipif(os.name == "nt", reason="no such signal")
def test_the_part_of_a_worker_that_was_killed_is_done_again(tmp_path, named, alone, address, monkeypatch):
    monkeypatch.setattr(cluster, "_adds", dies_once)
    add(tmp_path / "c", named, "--cluster", address)
    assert (tmp_path / "c" / "died").exists()
    (tmp_path / "c" / "died").unlink()
    assert bytes_of(tmp_path / "c") == alone[1]


def kills(*args: Any, **more: Any) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


@pytest.mark.skipif(os.name == "nt", reason="no such signal")
def test_a_file_that_kills_every_worker_is_told_and_adds_nothing(tmp_path, named, there, monkeypatch):
    monkeypatch.setattr(there.scheduler, "allowed_failures", 0)
    monkeypatch.setattr(cluster, "_adds", kills)
    with pytest.raises(ClusterError, match=r"gave up a file that ended every worker who read it \(1 in all\)"):
        add(tmp_path / "c", named[:1], "--cluster", there.scheduler_address)
    assert not list((tmp_path / "c").rglob("*.parquet")) and not ledger.read(tmp_path / "c").entries


def comes_too_late(path: Path, place: Path, **more: Any) -> Any:
    """The worker's function; of one file it begins to write when nobody waits for it any more."""
    if path.parent.name != "b":
        return cluster._adds(path, place, **more)
    mark = place.parent.parent.parent / "mark"
    put = collection.put

    def late(*args: Any) -> Any:
        (mark / "began").touch()
        for _ in range(600):
            if not place.parent.exists():
                break
            time.sleep(0.05)
        try:
            return put(*args)
        finally:
            (mark / "ended").touch()

    collection.put = late
    try:
        return cluster._adds(path, place, **more)
    finally:
        collection.put = put


def fails_then(path: Path, place: Path, **more: Any) -> Any:
    """As that; another file will not do, but for that one to have begun."""
    if path.name == "odd.csv":
        for _ in range(600):
            if (place.parent.parent.parent / "mark" / "began").exists():
                break
            time.sleep(0.05)
    return comes_too_late(path, place, **more)


def test_a_worker_that_comes_too_late_leaves_nothing(tmp_path, named, address, monkeypatch):
    mark = tmp_path / "mark"
    mark.mkdir()
    (tmp_path / "odd.csv").write_text("x,y\n1,2\n3,4\n")
    monkeypatch.setattr(cluster, "_adds", fails_then)
    with pytest.raises(InputError):
        add(tmp_path / "c", [str(tmp_path / "odd.csv"), named[1]], "--cluster", address)
    for _ in range(600):
        if (mark / "ended").exists():
            break
        time.sleep(0.05)
    assert (mark / "ended").exists()
    assert not list((tmp_path / "c").rglob("*.parquet")) and not list((tmp_path / "c").glob(".staged*"))


def test_stations_are_summed_up_on_a_cluster_as_without(tmp_path, address, monkeypatch):
    """In parts of one station, put together by twos."""
    run("add", str(of_many(tmp_path / "many.csv", CALLS[:5])), "--to", str(tmp_path / "c"), "--callsign", CALLS[0])
    alone = run("list", str(tmp_path / "c"), "--summary", "--json")
    monkeypatch.setattr(cluster, "_AT_A_TIME", 1)
    monkeypatch.setattr(cluster, "_BRANCHES", 2)
    assert run("list", str(tmp_path / "c"), "--summary", "--json", "--cluster", address) == alone
    assert alone.count('"call"') == 5


def test_a_file_that_will_not_do_ends_it_where_it_ends_without_a_cluster(tmp_path, named, address):
    """With the same error, and what came before it added."""
    (tmp_path / "odd.csv").write_text("x,y\n1,2\n3,4\n")
    given = [named[0], str(tmp_path / "odd.csv"), named[1]]
    told = []
    for home, more in (("alone", ()), ("c", ("--cluster", address))):
        with pytest.raises(InputError) as caught:
            add(tmp_path / home, given, *more)
        told.append(str(caught.value))
    assert told[0] == told[1]
    assert bytes_of(tmp_path / "c") == bytes_of(tmp_path / "alone")
    assert [entry.name for entry in ledger.read(tmp_path / "c").entries] == ["log.csv"]


def test_local_starts_a_cluster_that_this_machine_alone_can_reach_and_only_who_started_it(
    tmp_path, named, alone, monkeypatch
):
    """Of one worker, as on a machine with one core; of two: what goes to `address`."""
    monkeypatch.setattr(cluster.os, "cpu_count", lambda: 1)
    with cluster.joined("local", most=1) as client:
        me = psutil.Process()
        listening = {
            held.laddr.ip
            for process in (me, *me.children(recursive=True))
            for held in process.net_connections()
            if held.status == psutil.CONN_LISTEN
        }
        assert listening == {"127.0.0.1"}
        assert client.scheduler.address.startswith("tls://127.0.0.1:")
        with pytest.raises(OSError):  # without the certificates
            distributed.Client(client.scheduler.address, timeout="2s", security=distributed.Security.temporary())
    add(tmp_path / "c", named, "--cluster", "local")
    assert bytes_of(tmp_path / "c") == alone[1]


@pytest.mark.parametrize("nowhere", ["tcp://127.0.0.1:1", "127.0.0.1", "somewhere://127.0.0.1:1"])
def test_an_address_where_nobody_answers_is_one_sentence(tmp_path, named, monkeypatch, nowhere):
    monkeypatch.setattr(cluster, "_PATIENCE", "1s")
    with pytest.raises(
        ClusterError,
        match=f"^{nowhere}: no Dask scheduler answers there .*; start one, or name 'local' for workers on this machine.$",
    ) as caught:
        add(tmp_path / "c", named, "--cluster", nowhere)
    assert "\n" not in str(caught.value)


NO_WORKER = r"answers there, but it has had no worker for \d seconds; start workers for it \(dask worker tcp://.*\), or name 'local' .*"


@pytest.fixture
def empty() -> Iterator[Any]:
    """A scheduler to which no worker has come yet."""
    with distributed.LocalCluster(
        n_workers=0, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0", silence_logs=50
    ) as started:
        yield started


def test_a_scheduler_without_workers_is_one_sentence_and_nothing_is_added(tmp_path, named, alone, empty, monkeypatch):
    monkeypatch.setattr(cluster, "_WITHOUT_WORKERS_S", 2.0)
    with pytest.raises(ClusterError, match=NO_WORKER) as caught:
        add(tmp_path / "c", named, "--cluster", empty.scheduler_address)
    assert str(caught.value).startswith(f"{empty.scheduler_address}: ") and "\n" not in str(caught.value)
    assert not list((tmp_path / "c").rglob("*.parquet")) and not ledger.read(tmp_path / "c").entries
    add(tmp_path / "d", named)
    with pytest.raises(ClusterError, match=NO_WORKER):
        run("list", str(tmp_path / "d"), "--summary", "--cluster", empty.scheduler_address)


def test_a_worker_may_come_after_the_work(tmp_path, named, alone, empty):
    """As on clusters that start their workers when there is something to do."""
    empty.adapt(minimum=0, maximum=1, interval="100ms")
    assert add(tmp_path / "c", named, "--cluster", empty.scheduler_address) == alone[0]
    assert bytes_of(tmp_path / "c") == alone[1]


def without_end(*args: Any, **more: Any) -> None:
    time.sleep(600)


def test_workers_that_leave_for_good_are_one_sentence(tmp_path, named, empty, monkeypatch):
    empty.scale(1)
    empty.wait_for_workers(1)
    monkeypatch.setattr(cluster, "_adds", without_end)
    monkeypatch.setattr(cluster, "_WITHOUT_WORKERS_S", 2.0)
    threading.Timer(1.0, empty.scale, [0]).start()
    with pytest.raises(ClusterError, match=NO_WORKER):
        add(tmp_path / "c", named, "--cluster", empty.scheduler_address)


def test_a_cluster_that_is_interrupted_while_it_starts_is_not_closed_with_a_complaint(monkeypatch):
    def interrupted(**more: Any) -> None:
        raise KeyboardInterrupt

    let_go: list[Any] = []
    monkeypatch.setattr(distributed, "LocalCluster", interrupted)
    monkeypatch.setattr(cluster.atexit, "unregister", let_go.append)
    with pytest.raises(KeyboardInterrupt), cluster.joined("local", most=1):
        pass
    assert [each.__name__ for each in let_go] == ["close_clusters"]


def test_without_dask_one_sentence_says_how_to_get_it(tmp_path, named, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r"not installed: pip install 'reach\[cluster\]'"):
        add(tmp_path / "c", named, "--cluster", "local")


def test_standard_input_is_nothing_for_a_cluster(tmp_path, address):
    with pytest.raises(ClusterError, match="cannot read standard input"):
        add(tmp_path / "c", ["-"], "--cluster", address)


@pytest.mark.parametrize(
    ("of", "there", "says"), [("0.0.9", True, "the same version"), (None, False, "sees no folder")]
)
def test_a_worker_that_cannot_do_it_says_why(tmp_path, of, there, says):
    from reach.study import Study

    place = (tmp_path if there else tmp_path / "elsewhere") / "0"
    with pytest.raises(ClusterError, match=says):
        cluster._adds(SAMPLES / "evening.csv", place, home=tmp_path, study=Study(), of=of or cluster.version("reach"))


def test_an_error_is_the_same_in_another_process(tmp_path):
    (tmp_path / "odd.csv").write_text("time,who\n" + "2026-05-16 20:00,DL2QTC\n" * 5)
    from reach.read import table

    with pytest.raises(Unclear) as caught:
        table.read(tmp_path / "odd.csv")
    again = pickle.loads(pickle.dumps(caught.value))
    assert (type(again), str(again), again.questions) == (Unclear, str(caught.value), caught.value.questions)
