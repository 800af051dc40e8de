"""File readers for recordings, the actions noted beside them, and where each wire is."""

from startwright.records.recordings.model import Recording, TimedAction, WirePlace
from startwright.records.recordings.read import read_recording
from startwright.records.recordings.tables import read_actions, read_speeds, read_wires

__all__ = [
    "Recording",
    "TimedAction",
    "WirePlace",
    "read_actions",
    "read_recording",
    "read_speeds",
    "read_wires",
]
