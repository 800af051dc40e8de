"""A recording as the page shows it: curves that keep every peak, and what was done when."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from startwright.identify import TimedState, WireVerdict
from startwright.identify.actions import KEY_WORDS
from startwright.records.recordings import TimedAction

if TYPE_CHECKING:
    import numpy as np

PRESSED = ("brake", "clutch", "horn", "lock", "unlock", "driver_unlock", "start_button",
           "trunk_release", "alarm_arm", "alarm_disarm")  # fmt: skip
OPENED = ("hood", "door", "driver_door", "trunk")

NOT_YET = "not known yet"
"""A note that the title says already."""

STAIR = ("out", "off", "accessory", "run", "start")
"""The key positions, each a step higher."""


def thinned(time_s: np.ndarray, volts: np.ndarray, most: int) -> tuple[np.ndarray, np.ndarray]:
    """At most `most` points that keep every peak: each stretch gives its least and its most.

    Parameters
    ----------
    time_s : ndarray, shape (N,)
    volts : ndarray, shape (N, W)
    most : int
        Points wanted at most.

    Returns
    -------
    tuple of ndarray
        Times and volts; as they were where they are few enough.
    """
    import numpy as np

    n = len(time_s)
    if n <= most:
        return time_s, volts
    stretch = -(-2 * n // most)
    whole = n // stretch * stretch
    blocks = volts[:whole].reshape(-1, stretch, volts.shape[1])
    out = np.empty((2 * len(blocks), volts.shape[1]), dtype=volts.dtype)
    # The order within a stretch follows the curve's first and last value, so that ramps stay ramps.
    falling = blocks[:, 0] > blocks[:, -1]
    low, high = blocks.min(axis=1), blocks.max(axis=1)
    out[0::2] = np.where(falling, high, low)
    out[1::2] = np.where(falling, low, high)
    starts = time_s[:whole].reshape(-1, stretch)
    at = np.empty(2 * len(blocks))
    at[0::2] = starts[:, 0]
    at[1::2] = starts[:, stretch // 2]
    return np.append(at, time_s[-1]), np.vstack([out, volts[-1:]])


def as_noted(action: str) -> str:
    """An action of a report in the two words of the format.

    >>> as_noted("engine on"), as_noted("brake off"), as_noted("key run")
    ('engine starts', 'brake release', 'key run')
    """
    noun, _, state = action.partition(" ")
    if noun == "engine":
        return "engine starts" if state == "on" else "engine stops"
    if noun == "key" and state == "out":
        return "key remove"
    if state not in ("on", "off"):
        return action
    if noun in PRESSED:
        return f"{noun} {'press' if state == 'on' else 'release'}"
    if noun in OPENED:
        return f"{noun} {'open' if state == 'on' else 'close'}"
    return action if noun != "key" else "key off"


def timed(actions: Sequence[TimedState]) -> list[TimedAction]:
    """The actions of a report as they could have been noted."""
    return [TimedAction(a.time_s, as_noted(a.action)) for a in actions]


def lanes(actions: Sequence[TimedState], start_s: float, end_s: float) -> list[dict[str, Any]]:
    """What was done, as stretches of time for the lanes above the curves.

    Returns
    -------
    list of dict
        ``lane`` (key, engine, hand), ``start_s``, ``end_s``, ``says``, ``step`` (0 to 4, the height
        of the key) and ``proposed``.
    """
    found: list[dict[str, Any]] = []
    open_: dict[str, TimedState] = {}
    key: tuple[float, str, bool] | None = None
    for action in sorted(actions, key=lambda a: a.time_s):
        noun, _, state = action.action.partition(" ")
        if noun == "key":
            to = KEY_WORDS.get(state, state)
            if key is None and action.time_s > start_s:
                before = "out" if to == "off" else ""
                key = (start_s, before, action.proposed)
            if key is not None and key[1]:
                found.append(_stretch("key", key[0], action.time_s, key[1], key[2]))
            key = (action.time_s, to, action.proposed)
            continue
        begins = state in ("on", "drive", "start") and noun != "command"
        if noun == "command":
            found.append(
                _stretch("hand", action.time_s, action.time_s, action.action, action.proposed)
            )
        elif begins:
            open_.setdefault(noun, action)
        elif noun in open_:
            first = open_.pop(noun)
            found.append(_hand(noun, first, action.time_s))
    if key is not None and key[1]:
        found.append(_stretch("key", key[0], end_s, key[1], key[2]))
    found += [_hand(noun, first, end_s) for noun, first in open_.items()]
    return found


def _hand(noun: str, first: TimedState, end_s: float) -> dict[str, Any]:
    if noun == "engine":
        return _stretch("engine", first.time_s, end_s, "engine runs", first.proposed)
    says = "drive" if noun == "shift" else noun.replace("_", " ")
    return _stretch("hand", first.time_s, end_s, says, first.proposed)


def _stretch(lane: str, start_s: float, end_s: float, says: str, proposed: bool) -> dict[str, Any]:
    step = STAIR.index(says) if lane == "key" and says in STAIR else 0
    return {
        "lane": lane,
        "start_s": round(start_s, 3),
        "end_s": round(end_s, 3),
        "says": says,
        "step": step,
        "proposed": proposed,
    }


def telling(verdict: WireVerdict) -> str:
    """The one line of the evidence that tells most, to stand without being asked for.

    A line that rules something out, else one of a hand at work, else the cranking.
    """
    lines = verdict.evidence
    if verdict.leave_alone and lines:
        return lines[0]
    own = f"with {(verdict.function or verdict.likely or '').replace('_', ' ')} worked"
    for test in (
        lambda line: line.endswith(own),
        lambda line: ": not " in line or " only while" in line,
        lambda line: line.endswith(" worked"),
        lambda line: "while cranking" in line,
    ):
        found = [line for line in lines if test(line)]
        if found:
            return found[0]
    return lines[0] if lines else ""


def said_once(verdicts: Sequence[WireVerdict]) -> list[tuple[str, list[str]]]:
    """Notes that two wires or more carry, each with the wires."""
    wires: dict[str, list[str]] = {}
    for verdict in verdicts:
        for note in verdict.notes:
            if note == NOT_YET or verdict.leave_alone:
                continue
            wires.setdefault(note, []).append(verdict.wire)
    return [(note, names) for note, names in wires.items() if len(names) > 1]
