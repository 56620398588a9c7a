"""The same functions on a Dask cluster that is there already, or on processes of this machine.

Who does what, and that the part of a worker that died is done again, is Dask's business. Files are read and parts are written
where the work is done, so that only counts go over the wire: every machine sees files and collection on one disc, under one name.
"""

from __future__ import annotations

import atexit
import contextlib
import logging
import os
import socket
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from functools import partial
from importlib.metadata import version
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

from reach.archive import collection, taking, transmitters
from reach.errors import ClusterError, ReachError

if TYPE_CHECKING:
    from distributed import Client, Future

    from reach.archive.ledger import Entry
    from reach.archive.transmitters import Summary
    from reach.read.remote import Url
    from reach.study import Study

T = TypeVar("T")
LOCAL: Final = "local"
_HOST: Final = "127.0.0.1"
_PATIENCE: Final = "10s"  # for a scheduler to answer
_WITHOUT_WORKERS_S: Final = 60.0  # some clusters start their workers when there is something to do
_LOOK_S: Final = 1.0
_AT_A_TIME: Final = 8  # stations: enough to be worth the asking
_BRANCHES: Final = 8


@contextlib.contextmanager
def joined(address: str, *, most: int) -> Iterator[Client]:
    """A client of the scheduler at an address.

    address : such as tcp://10.0.0.7:8786; "local" for a worker on each core of this machine, `most` at the most, which listen to
        this machine and talk to who started them, by certificates of their own
    ClusterError where Dask is not installed, or nobody answers.
    """
    try:
        import distributed
    except ImportError:
        raise ClusterError("Dask, which a cluster needs, is not installed: pip install 'reach[cluster]'.") from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    with contextlib.ExitStack() as ended:
        try:
            where = ended.enter_context(_local(max(1, min(os.cpu_count() or 1, most)))) if address == LOCAL else address
            client = ended.enter_context(distributed.Client(where, timeout=_PATIENCE, set_as_default=False))
        except (OSError, ValueError, RuntimeError, ImportError) as error:
            raise ClusterError(
                f"{address}: no Dask scheduler answers there ({_reason(error)}); start one, or name {LOCAL!r} for workers on this machine."
            ) from None
        yield client


def _local(workers: int) -> Any:
    """Workers of this machine, one thread each. Without pages to look at them, for those anybody on the machine could open."""
    import dask
    from distributed import LocalCluster, Security
    from distributed.deploy.spec import close_clusters

    dask.config.set({f"distributed.{part}.http.routes": [] for part in ("scheduler", "worker")})
    try:
        return LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            host=_HOST,
            dashboard_address=f"{_HOST}:0",
            worker_dashboard_address=f"{_HOST}:0",
            security=Security.temporary(),
            silence_logs=logging.CRITICAL,
        )
    except (
        BaseException
    ):  # interrupted while it starts: what is half there cannot be closed, and ends with this process
        atexit.unregister(close_clusters)
        raise


def add(client: Client, home: Path, study: Study, paths: Sequence[Path | Url | None]) -> Generator[list[Entry]]:
    """Add files to a collection, which then is to the byte what one process makes of it.

    Yields for each file, in their order, its entries as they stand in the ledger; none where it was there already. What a file
    adds is entered when all files before it are. ReachError of the first file that will not do; those before it are added.
    """
    if None in paths:
        raise ClusterError("a cluster cannot read standard input; name the file.")
    with collection.staging(home) as staged:
        places = [staged / str(k) for k in range(len(paths))]
        absolute = [path.absolute() if isinstance(path, Path) else path for path in paths]
        futures = client.map(
            _adds, absolute, places, home=home.absolute(), study=study, of=version("reach"), pure=False
        )
        seen: set[str] = set()
        for results, error in _in_order(client, futures):
            found = [(place, _unseen(entries, seen)) for place, entries in zip(places, results, strict=False)]
            del places[: len(found)]
            yield from collection.enter(home, found)
            if error is not None:
                raise error


def _adds(path: Path | Url, place: Path, home: Path, study: Study, of: str) -> list[Entry]:
    """`taking.adds` on a worker."""
    _check(of, place.parent)
    return taking.adds(home, study, path, place)


def summaries(client: Client, folder: Path) -> list[Summary]:
    """Every station of a collection in figures, as `transmitters.merged` has them: worked out a few stations at a time where
    there is room, and put together as a tree, so that no rows and no long list ever lie in one place but the last."""
    which = transmitters.stations(folder)
    parts = [which[k : k + _AT_A_TIME] for k in range(0, len(which), _AT_A_TIME)]
    found = client.map(_summaries, parts, folder=folder.absolute(), of=version("reach"), pure=False)
    while len(found) > 1:
        few = [found[k : k + _BRANCHES] for k in range(0, len(found), _BRANCHES)]
        found = [client.submit(transmitters.merged, each, pure=False) for each in few]
    if not found:
        return []
    _wait(client, found[0])
    return _told(found[0].result)


def _summaries(which: Sequence[tuple[str, str]], folder: Path, of: str) -> list[Summary]:
    """`transmitters.summaries` on a worker."""
    _check(of, folder)
    return transmitters.merged([list(transmitters.summaries(folder, which))])


def _check(of: str, folder: Path) -> None:
    """ClusterError where this worker cannot do the same as who asks it, or does not see the collection."""
    who = socket.gethostname()
    if version("reach") != of:
        raise ClusterError(f"{who}: has reach {version('reach')} and not {of}; workers need the same version.")
    if not folder.is_dir():
        raise ClusterError(f"{who}: sees no folder {folder}; workers need the disc that the collection lies on.")


def _unseen(entries: list[Entry], seen: set[str]) -> list[Entry]:
    """The entries of a file, none where a file before it in this run has the same bytes."""
    new = [entry for entry in entries if entry.sha256 not in seen]
    seen.update(entry.sha256 for entry in entries)
    return new


def _wait(client: Client, future: Future) -> None:
    """Until something is done. ClusterError where the scheduler has no worker who could do it, and none comes."""
    last = time.monotonic()
    while True:
        with contextlib.suppress(TimeoutError):
            _told(partial(future.exception, timeout=_LOOK_S))
            return
        if _has_workers(client):
            last = time.monotonic()
        elif time.monotonic() - last >= _WITHOUT_WORKERS_S:
            assert client.scheduler is not None  # or nothing could have been asked of it
            address = client.scheduler.address
            raise ClusterError(
                f"{address}: a Dask scheduler answers there, but it has had no worker for {_WITHOUT_WORKERS_S:.0f} seconds; "
                f"start workers for it (dask worker {address}), or name {LOCAL!r} for workers on this machine."
            )


def _has_workers(client: Client) -> bool:
    try:
        return bool(client.nthreads())
    except OSError:  # the scheduler is gone: what was asked of it will say so
        return False


def _in_order(client: Client, futures: Sequence[Future]) -> Iterator[tuple[list[Any], ReachError | None]]:
    """What is done of the beginning, again and again; with the error of the first that failed, after which nothing comes."""
    at, error = 0, None
    while at < len(futures) and error is None:
        _wait(client, futures[at])
        results: list[Any] = []
        for future in takewhile(lambda future: future.done(), futures[at:]):
            try:
                results.append(_told(future.result))
            except ReachError as failed:
                error = failed
                break
        at += len(results)
        yield results, error


def _told(ask: Callable[[], T]) -> T:
    """What a call of Dask's returns. ClusterError, in a sentence, where cluster or workers failed."""
    from distributed import CancelledError, KilledWorker
    from distributed.comm import CommClosedError

    try:
        return ask()
    except ReachError as error:
        raise error from None
    except KilledWorker as error:
        raise ClusterError(
            f"the cluster gave up a file that ended every worker who read it ({error.allowed_failures + 1} in all); "
            "give them more memory, or divide it."
        ) from None
    except (CancelledError, CommClosedError):
        raise ClusterError("the cluster was lost; what was added before is there, and a second run goes on.") from None
    except ModuleNotFoundError as error:
        raise ClusterError(
            f"the cluster has no {error.name}; scheduler and workers need reach and what it needs."
        ) from None


def _reason(error: Exception) -> str:
    return str(error).split("\n")[0] or type(error).__name__
