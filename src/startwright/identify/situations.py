"""States of the car that are said rather than recorded: those of a reading, those of a check."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from startwright.identify.actions import KEY_ALL, MOMENTARY, PRINCIPAL, key_bit, parse
from startwright.identify.segments import UNKNOWN, Table, worked_key_off
from startwright.records.words import KEY_POSITIONS

RESTING_V, CRANKING_V, RUNNING_V = 12.5, 10.3, 14.1


def situate(states: Sequence[Sequence[str]], where: str = "readings") -> Table:
    """A table with one row for each list of actions in force at once (``["key run", …]``).

    Without a word about the key it is off or out; without one about the engine it stands, unless
    the starter is turned.

    Raises
    ------
    RecordError
        An action that is none.
    """
    n = len(states)
    key = np.full(n, key_bit("out") | key_bit("off"), dtype=np.int64)
    crank, engine = np.zeros(n), np.zeros(n)
    hands: dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]] = {
        name: np.zeros(n) for name in (*PRINCIPAL, "drive")
    }
    moment = np.zeros(n, dtype=bool)
    exercised: set[str] = set()
    for row, state in enumerate(states):
        for action in state:
            what, to = parse(action, where)
            if what == "key":
                key[row] = key_bit(to)
                crank[row] = 1.0 if to == "start" else 0.0
                exercised.add(f"key_{to}")
            elif what == "engine":
                engine[row] = 1.0 if to == "on" else 0.0
                if to == "on" and not state_has_key(state):
                    key[row] = key_bit("run")
            elif what == "shift":
                hands["drive"][row] = 1.0 if to == "drive" else 0.0
                exercised.add("drive")
            elif what == "command":
                hands.setdefault(f"command_{to}", np.zeros(n))[row] = 1.0
                exercised.add(f"command_{to}")
                if to == "start":
                    key[row], engine[row] = KEY_ALL, UNKNOWN
            else:
                hands.setdefault(what, np.zeros(n))[row] = 1.0 if to == "on" else 0.0
                if to == "on":
                    exercised.add(what)
                    moment[row] = moment[row] or what in MOMENTARY
    time_s = np.arange(n, dtype=np.float64) * 30.0
    return Table(
        start_s=time_s,
        end_s=time_s + 30.0,
        core_start_s=time_s,
        core_end_s=time_s + 30.0,
        key=key,
        crank=crank,
        engine=engine,
        hands=hands,
        moment=moment,
        weight=np.ones(n),
        exercised=frozenset(exercised) | worked_key_off(hands, key),
        sure=np.ones(n, dtype=bool),
    )


def state_has_key(state: Sequence[str]) -> bool:
    """Whether a list of actions says where the key is."""
    return any(parse(a)[0] == "key" for a in state)


def expected_rail_V(table: Table) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """What the battery usually stands at in each row."""
    return np.where(table.crank == 1, CRANKING_V, np.where(table.engine == 1, RUNNING_V, RESTING_V))


def said(state: Sequence[str]) -> str:
    """A list of actions in words."""
    return ", ".join(state) if state else "key off, nothing worked"


ALL_POSITIONS = KEY_POSITIONS
