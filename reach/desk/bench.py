"""The server's side of the worker: one process, one job at a time, the same job asked for twice is one."""

from __future__ import annotations

import contextlib
import json
import subprocess
import threading
from collections import deque
from dataclasses import dataclass, field
from typing import Any, Final

from reach.base import afresh
from reach.errors import ReachError

_LEAVES_S: Final = 10  # what a worker gets to clean up before it is ended the hard way
_KEPT: Final = 32  # jobs whose outcome is remembered


class WorkError(ReachError):
    """What was ordered could not be done: the library's own sentence."""


@dataclass(eq=False)
class Job:
    """Something ordered: what it is doing, and what came of it.

    kind, about : what is done, and with which study; together with `order` they tell jobs apart
    steps : what was done so far, the last of them just now; usual : how many it took the last time, 0 where that is not known
    """

    number: int
    kind: str
    about: str
    order: dict[str, Any]
    usual: int = 0
    steps: list[str] = field(default_factory=list)
    result: Any = None
    error: str = ""
    cancelled: bool = False
    ended: threading.Event = field(default_factory=threading.Event)

    def outcome(self, wait_s: float | None = None) -> Any:
        """What came of it. WorkError with a sentence where nothing did; TimeoutError where it is still being done."""
        if not self.ended.wait(wait_s):
            raise TimeoutError
        if self.error:
            raise WorkError(self.error)
        return self.result


class Bench:
    """Where jobs wait for the worker. It is started with the first of them, or by `warm`."""

    def __init__(self) -> None:
        self._waiting: deque[Job] = deque()
        self._jobs: list[Job] = []
        self._there = threading.Condition()
        self._process: subprocess.Popen[str] | None = None
        self._number = 0
        self._usual: dict[str, int] = {}
        self._closed = False
        self._thread = threading.Thread(target=self._work, daemon=True)
        self._thread.start()

    def ask(self, kind: str, about: str, /, **order: Any) -> Job:
        """Order something; where the same is waiting, being done, or was done well, that job is the answer.

        kind : a verb of the worker; about : the study's name
        """
        with self._there:
            for job in reversed(self._jobs):
                same = (job.kind, job.about, job.order) == (kind, about, order)
                if same and not job.cancelled and (not job.ended.is_set() or (kind in _LASTING and not job.error)):
                    return job
            self._number += 1
            job = Job(self._number, kind, about, order, self._usual.get(kind, 0))
            self._jobs = [*self._jobs[-_KEPT:], job]
            self._waiting.append(job)
            self._there.notify()
            return job

    def find(self, number: int) -> Job | None:
        """A job by its number."""
        return next((job for job in self._jobs if job.number == number), None)

    def latest(self, kind: str, about: str) -> Job | None:
        """The last job of a kind about a study."""
        return next((job for job in reversed(self._jobs) if (job.kind, job.about) == (kind, about)), None)

    @property
    def busy(self) -> bool:
        """Whether anything is waiting or being done."""
        return any(not job.ended.is_set() for job in self._jobs)

    def cancel(self, job: Job) -> None:
        """End a job; what it had begun to write goes, and what was there before stays."""
        with self._there:
            if job.ended.is_set():
                return
            job.cancelled = True
            if job in self._waiting:
                self._waiting.remove(job)
                _end(job, "")
                return
            process = self._process
        if process is not None:
            process.terminate()

    def close(self) -> None:
        """End the worker. What is being written is not: the results that were there before stay."""
        with self._there:
            self._closed = True
            self._there.notify()
            process = self._process
        if process is not None:
            _let_go(process)

    # --- in a thread of its own ---------------------------------------------------------------------------------------

    def _work(self) -> None:
        while True:
            with self._there:
                self._there.wait_for(lambda: self._waiting or self._closed)
                if self._closed:
                    return
                job = self._waiting.popleft()
            try:
                self._carry_out(job)
            finally:
                if not job.ended.is_set():
                    _end(job, "")

    def _carry_out(self, job: Job) -> None:
        process = self._started()
        if process is None or process.stdin is None or process.stdout is None:
            return _end(job, "no process could be started for it; close other programs and try again.")
        with contextlib.suppress(OSError):  # it has ended: then there is no answer either
            process.stdin.write(json.dumps({"verb": job.kind, **job.order}) + "\n")
            process.stdin.flush()
        for line in process.stdout:
            said = json.loads(line)
            if "step" in said:
                job.steps.append(said["step"])
                continue
            job.result = said.get("done")
            self._usual[job.kind] = len(job.steps)
            return _end(job, said.get("error", ""))
        self._process = None
        _let_go(process)
        why = "the process that did it has ended, perhaps for want of memory; nothing was changed. Try again."
        return _end(job, "" if job.cancelled else why)

    def _started(self) -> subprocess.Popen[str] | None:
        with self._there:
            if self._process is None or self._process.poll() is not None:
                try:
                    self._process = afresh.start(
                        "reach.desk.worker", stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8"
                    )
                except (OSError, ValueError):
                    self._process = None
            return self._process


# What stays true as long as the order is the same: an order about a study carries the stamp of what it holds.
_LASTING: Final = {"look", "rows", "station", "on_air", "plan", "doubtful", "take_in", "understood", "near"}


def _end(job: Job, error: str) -> None:
    job.error = error
    job.ended.set()


def _let_go(process: subprocess.Popen[str]) -> None:
    """End a process, gently first."""
    if process.stdin is not None:
        with contextlib.suppress(OSError):
            process.stdin.close()
    process.terminate()
    try:
        process.wait(_LEAVES_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
