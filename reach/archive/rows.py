"""The rows of a collection: the first half of the walk over what was kept of many files.

They were read and judged one by one when they were added; what the user may change since, corrections, setups, sessions and the
station's place and power, is applied now, and so is the search for duplicates.
"""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reach.base import ways
from reach.errors import StudyError
from reach.rows import Rows

if TYPE_CHECKING:
    from datetime import date

    import numpy as np
    import numpy.typing as npt
    import pandas as pd

    from reach.archive.collection import Loaded
    from reach.archive.ledger import Entry
    from reach.assign.owners import Owned
    from reach.findings import Counts, InputFile
    from reach.read.times import Moments
    from reach.study import Study
    from reach.vet.fixes import Applied
    from reach.vet.rules import Vetted

    Ints = npt.NDArray[np.int64]


def collection_of(study: Study) -> Path | None:
    """The collection that a study is about; None where it names files. StudyError where it names files beside one."""
    from reach.archive import collection

    named = [*study.files, *(name for session in study.sessions for name in session.files)]
    held = [path for name in study.files if collection.is_one(path := Path(study.folder, Path(name).expanduser()))]
    if held and len(study.files) > 1:
        raise StudyError(
            f"{held[0]}: a collection stands alone; put the other files into it with {ways.asked('add', str(held[0]))}."
        )
    return held[0] if held and named else None


class CollectedRows(Rows):
    """The rows of one station in a collection, in one direction.

    keeps : whether what is worked out of a day is kept in the collection
    """

    keeps = True

    @cached_property
    def folder(self) -> Path:
        """The collection."""
        found = collection_of(self.study)
        assert found is not None
        return found

    def _of_both_directions(self) -> dict[str, Any]:
        return {}

    @cached_property
    def _calls(self) -> tuple[str, ...]:
        """The station's callsigns. InputError where the collection holds several stations and none is named."""
        from reach.archive import asked

        return asked.whose(self.folder, self.study)

    @cached_property
    def _entries(self) -> list[Entry]:
        from reach.archive import ledger

        return ledger.read(self.folder).holding(self._calls, self.study.direction)

    @cached_property
    def _loaded(self) -> Loaded:
        from reach.archive import collection

        self.progress("reading")
        days = {name: moment.date() for name in ("start", "end") if (moment := getattr(self.study, name)) is not None}
        return collection.load(self.folder, self._calls, self.study.direction, keep=self.keeps, **days)

    @cached_property
    def _files(self) -> tuple[pd.DataFrame, list[InputFile]]:
        from reach.findings import InputFile

        return self._loaded.spots, [
            InputFile(entry.name, entry.sha256, entry.rows, entry.unused_headers) for entry in self._entries
        ]

    @cached_property
    def _corrected(self) -> tuple[pd.DataFrame, Applied, Ints]:
        from reach.archive import asked
        from reach.vet import fixes

        path = self.fixes or asked.fixes_of(self.folder)
        return asked.mended(self._loaded, fixes.read(path) if path else [])

    @property
    def _mended(self) -> tuple[pd.DataFrame, Applied]:
        return self._corrected[:2]

    @property
    def _waited(self) -> int:
        """How many rows were refused for their locator, and are mended now."""
        return len(self._mended[0]) - len(self._loaded.spots)

    @cached_property
    def owned(self) -> Owned:
        """The rows of the station. Those of others in the same files lie in the collection beside them."""
        from reach.archive import asked

        return asked.owned(self._mended[0], self._entries, self._calls, self.study)

    @cached_property
    def moments(self) -> Moments:
        from reach.read.times import known

        return known(self.owned.raw["time_utc"])

    @property
    def span(self) -> tuple[date, date] | None:
        from reach.archive import collection

        days = [day for call in self._calls for day in collection.days(self.folder, call, self.study.direction)]
        return (min(days), max(days)) if days else None

    def _vetted_rows(self) -> Vetted:
        from dataclasses import replace

        from reach.archive import problems
        from reach.vet import rules

        found = rules.once(self.assigned, self._perhaps_twice, by_mhz=self.by_mhz)
        mended = self._mended[0][self._corrected[2] < 0]
        kept = problems.of(self.folder, self._calls, self.study.direction, mended=mended[["source", "line"]])
        return replace(found, wrong=kept.beside(self.raw, found.problems))

    @property
    def _perhaps_twice(self) -> npt.NDArray[np.bool_] | None:
        """Which rows may report what another does; None where any may: one with another locator may repeat one without."""
        from reach.archive import kept

        known = self._loaded.known
        return None if known is None or self.applied.rows else known[kept.TWICE].to_numpy()

    @property
    def daylight(self) -> pd.DataFrame | None:
        from reach.archive import kept

        known = self._loaded.known
        return None if known is None else kept.taken(known, self._corrected[2][self.vetted.rows])

    @property
    def counts(self) -> Counts:
        """Where every row went of the files that hold something of the station."""
        from reach.findings import Counts

        rejected = sum(entry.share(self._calls).rejected for entry in self._entries) - self._waited
        aside = self.owned.set_aside + self._loaded.beyond
        return self.vetted.counts + Counts(rejected + aside, 0, rejected, 0, aside)

    @property
    def outside(self) -> int:
        return super().outside + self._loaded.beyond

    def set_aside(self, callsign: str) -> pd.DataFrame:
        from reach.archive import collection
        from reach.assign import owners
        from reach.vet import rules

        return rules.once(collection.load(self.folder, [owners.base(callsign)], self.study.direction).spots).spots
