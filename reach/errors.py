"""The errors a user may see. One shallow tree; each message is one sentence that says what came, what was wanted
and, where there is one, the file and line.

ReachError
├── InputError      a file of spots that cannot be read as one
├── StudyError      a study file, a schedule or a fixes file with something wrong in it
├── LocatorError    text that is no Maidenhead locator, or a position off the globe   (also a ValueError)
├── LineError       a feedline, mismatch or antenna that cannot exist                 (also a ValueError)
├── CompareError    a comparison that was asked for wrongly (a refusal is no error)
├── DrawError       a picture that cannot be drawn as asked
├── OutputError     a folder or file that cannot be written
└── ClusterError    a cluster that cannot be reached, was lost, or cannot do its part

The command line shows a ReachError as one line and exits with 2. Anything else is a bug: `cli/bug.py` puts its traceback
into a file and says so in one sentence.
"""

from __future__ import annotations

from typing import Any

from reach.base import text, ways
from reach.base.ways import Medium


class ReachError(Exception):
    """Base of every error that a user may see: whatever it quotes, each of its sentences is one line without control
    characters. As a text it speaks to who calls the library; `said` speaks to others."""

    def __init__(self, *sentences: str) -> None:
        self._sentences = sentences
        super().__init__(self.said(Medium.ARGUMENT))

    def said(self, medium: Medium) -> str:
        """Its sentences, a line each, in the words of a medium."""
        return "\n".join(text.one_line(ways.said(sentence, medium)) for sentence in self._sentences)

    def __reduce__(self) -> tuple[Any, ...]:
        """In another process it is the same, whatever its parts were made of."""
        return _again, (type(self), self.args, self.__dict__)


class InputError(ReachError):
    """A file of spots that cannot be read as one."""


class StudyError(ReachError):
    """A study file, schedule or fixes file with something wrong in it."""


class LocatorError(ReachError, ValueError):
    """Text that is no Maidenhead locator, or a position off the globe."""


class LineError(ReachError, ValueError):
    """A feedline, mismatch or antenna that cannot exist."""


class CompareError(ReachError):
    """A comparison that was asked for wrongly."""


class DrawError(ReachError):
    """A picture that cannot be drawn as asked."""


class OutputError(ReachError):
    """A folder or file that cannot be written."""


class ClusterError(ReachError):
    """A cluster that cannot be reached, was lost, or cannot do its part."""


def _again(kind: type[ReachError], said: tuple[Any, ...], parts: dict[str, Any]) -> ReachError:
    error = kind.__new__(kind, *said)
    error.__dict__.update(parts)
    return error
