"""Where the answer goes: the same for a reader that has had enough, and said where it is lost."""

from __future__ import annotations

import io
import os
import sys
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer


class Kept(io.FileIO):
    """A file that goes on taking what nobody will get, and remembers why.

    Attributes
    ----------
    lost : OSError or None
        Why it could not be written. A pipe whose reader went away is no such reason: the reader had
        enough.
    """

    lost: OSError | None = None

    def write(self, data: ReadableBuffer, /) -> int:
        """Write, to nowhere from the first failure on."""
        try:
            return super().write(data)
        except OSError as error:
            if not isinstance(error, BrokenPipeError):
                self.lost = error
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, self.fileno())
            os.close(nowhere)
            return memoryview(data).nbytes


def hold() -> Kept | None:
    """Put standard output and standard error on files that outlive their readers.

    Returns
    -------
    Kept or None
        The file of standard output; None where it is a terminal, or closed.
    """
    kept, sys.stdout = _held(sys.stdout)
    _, sys.stderr = _held(sys.stderr)
    return kept


def _held(stream: TextIO | None) -> tuple[Kept | None, TextIO]:
    if stream is None:  # closed by whoever called us
        return None, open(os.devnull, "w", encoding="utf-8")
    if stream.isatty():
        return None, stream
    stream.flush()
    file = Kept(stream.fileno(), "w", closefd=False)
    text = io.TextIOWrapper(
        io.BufferedWriter(file),
        encoding=stream.encoding,
        errors=stream.errors,
        line_buffering=stream is sys.stderr,
    )
    return file, text
