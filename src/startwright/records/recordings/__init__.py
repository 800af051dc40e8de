"""File readers for recordings, the actions noted beside them, and where each wire is.

What needs numpy is loaded when it is asked for: places and actions alone do not.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from startwright.records.recordings.beside import TimedAction, WirePlace
from startwright.records.recordings.tables import read_actions, read_speeds, read_wires

if TYPE_CHECKING:
    from startwright.records.recordings.model import Recording
    from startwright.records.recordings.read import read_recording

__all__ = [
    "Recording",
    "TimedAction",
    "WirePlace",
    "read_actions",
    "read_recording",
    "read_speeds",
    "read_wires",
]

_LATE = {"Recording": "model", "read_recording": "read"}


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATE[name]}"), name)
