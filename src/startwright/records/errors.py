"""One shape for every error a person can cause: what, where, what would be right."""

from __future__ import annotations


class RecordError(ValueError):
    """Input that cannot be used.

    Parameters
    ----------
    what : str
        What was found, in words.
    where : str
        File, line and path of the offending value (``car.yaml:12 circuits[3].size_mm2``).
    expected : str
        What would be right.

    Attributes
    ----------
    others : tuple of RecordError
        What else is wrong further down in the same record, in the order of its lines.
    """

    others: tuple[RecordError, ...] = ()

    def __init__(self, what: str, where: str, expected: str) -> None:
        super().__init__(f"{where}: {what}; expected {expected}")
        self.what = what
        self.where = where
        self.expected = expected

    def as_json(self) -> dict[str, dict[str, str]]:
        """The error as every face reports it."""
        return {"error": {"what": self.what, "where": self.where, "expected": self.expected}}
