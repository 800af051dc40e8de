"""Scenario lines: what is done, in order, and what must follow.

``command start · wait 3 s · hood open → ignition off, starter off``

Actions are joined by ``·`` (or ``;``), what must follow stands after ``→`` (or ``->``), joined by
commas. Reading a line and writing it again gives the same line.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass

from startwright.records.errors import RecordError

_OPEN = ("open", "close")
_PRESS = ("press", "release")
_ON = ("on", "off")

ACTIONS: dict[str, tuple[str, ...]] = {
    "key": ("insert", "remove", "off", "accessory", "run", "start"),
    "command": ("start", "stop", "lock", "unlock", "trunk", "panic"),
    "brake": _PRESS,
    "clutch": _PRESS,
    "hood": _OPEN,
    "door": _OPEN,
    "driver_door": _OPEN,
    "trunk": _OPEN,
    "shift": ("park", "neutral", "drive"),
    "parking_brake": ("set", "release"),
    "parking_light": _ON,
    "parking_light_left": _ON,
    "parking_light_right": _ON,
    "dome_light": _ON,
    "horn": _PRESS,
    "lock": _PRESS,
    "unlock": _PRESS,
    "driver_unlock": _PRESS,
    "trunk_release": _PRESS,
    "alarm_arm": _PRESS,
    "alarm_disarm": _PRESS,
    "start_button": _PRESS,
    "seat_heater": _ON,
    "rear_defogger": _ON,
    "engine": ("starts", "fails", "stops", "stalls", "gives_up"),
    "wait_lamp": _ON,
    "battery": ("low", "normal"),
    "service": _ON,
}
"""Every action: the thing, and what can be done with it."""

FAULTS: tuple[str, ...] = (
    "open",
    "short to ground",
    "short to battery",
    "stuck open",
    "stuck closed",
)
"""What a single fault does (IEC 60812 calls these failure modes)."""

LONGEST_WAIT_S = 86_400.0
LONGEST_LINE = 4_000

_THING = re.compile(r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,80}$")
_WAIT = re.compile(r"^wait\s+(\d{1,6}(?:\.\d{1,6})?)\s*s$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Action:
    """One thing done: ``Action("hood", "open")``; a fault is ``Action("fault", "r7 open")``."""

    what: str
    to: str

    def __str__(self) -> str:
        return f"{self.what} {self.to}"


@dataclass(frozen=True, slots=True)
class Wait:
    """Time that passes with nothing done, in seconds (kept to the millisecond)."""

    seconds: float

    def __str__(self) -> str:
        return f"wait {_number(self.seconds)} s"


@dataclass(frozen=True, slots=True)
class Expect:
    """What must be so afterwards: ``Expect("starter", "off")``, a function or a circuit's id."""

    what: str
    to: str

    def __str__(self) -> str:
        return f"{self.what} {self.to}"


@dataclass(frozen=True, slots=True)
class Scenario:
    """A line: `actions` in order (`Action` or `Wait`), and the `expects` at its end."""

    actions: tuple[Action | Wait, ...]
    expects: tuple[Expect, ...] = ()

    def __str__(self) -> str:
        done = " · ".join(str(a) for a in self.actions)
        if not self.expects:
            return done
        return f"{done} → {', '.join(str(e) for e in self.expects)}".lstrip()


def _number(seconds: float) -> str:
    text = f"{seconds:.3f}".rstrip("0").rstrip(".")
    return text or "0"


def _near(word: str, known: Iterable[str]) -> str:
    known = list(known)
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return f"{close[0]!r} (one of: {', '.join(known)})" if close else f"one of: {', '.join(known)}"


def parse_action(text: str, where: str = "scenario") -> Action | Wait:
    """Read one action: two words (``hood open``), ``wait N s`` or ``fault THING MODE``.

    Raises
    ------
    RecordError
        Where the words are none of `ACTIONS`; the nearest ones are named.
    """
    found = " ".join(text.split())
    wait = _WAIT.match(found)
    if wait:
        seconds = round(float(wait.group(1)), 3)
        if not 0 < seconds <= LONGEST_WAIT_S:
            raise RecordError(
                f"a wait of {wait.group(1)} s",
                where,
                f"more than 0 and at most {LONGEST_WAIT_S:g} s",
            )
        return Wait(seconds)
    what, _, to = found.partition(" ")
    what = what.lower()
    if what == "wait":
        raise RecordError(f"{found!r}", where, "'wait N s', such as 'wait 3 s'")
    if what == "fault":
        return _fault(found, to, where)
    to = to.lower()
    known = ACTIONS.get(what) or ACTIONS.get(what.removesuffix("_left").removesuffix("_right"))
    if known is None:
        raise RecordError(f"an unknown action {found!r}", where, _near(what, [*ACTIONS, "wait"]))
    if to not in known:
        shown = f"{what!r} with {to!r}" if to else f"{what!r} alone"
        raise RecordError(
            shown, where, f"{what!r} followed by {' or '.join(repr(t) for t in known)}"
        )
    return Action(what, to)


def _fault(found: str, rest: str, where: str) -> Action:
    thing, _, mode = rest.partition(" ")
    mode = mode.lower()
    if not _THING.match(thing) or mode not in FAULTS:
        raise RecordError(
            f"{found!r}",
            where,
            f"'fault', a run, part or lead, and {' or '.join(repr(m) for m in FAULTS)}",
        )
    return Action("fault", f"{thing} {mode}")


def parse_expect(text: str, where: str = "scenario") -> Expect:
    """Read one expectation: ``starter off``, ``engine runs``, ``unit idle``.

    Whether a circuit or function of that name exists is for the one who knows the vehicle.
    """
    words = text.split()
    allowed: tuple[str, ...] = _ON
    if words and words[0] == "engine":
        allowed = ("runs", "stands")
    elif words and words[0] == "unit":
        allowed = ("idle",)
    if len(words) != 2 or not _THING.match(words[0]) or words[1].lower() not in allowed:
        raise RecordError(
            f"{' '.join(words)!r} as what must follow",
            where,
            "a function or a circuit's id with 'on' or 'off', 'engine runs', 'engine stands' or "
            "'unit idle'",
        )
    return Expect(words[0], words[1].lower())


def parse_scenario(line: str, where: str = "scenario") -> Scenario:
    """Read a scenario line.

    Parameters
    ----------
    line : str
        ``command start · hood open → ignition off``; ``;`` and ``->`` do for ``·`` and ``→``.
    where : str
        Where the line stands (file and line), for the error.

    Raises
    ------
    RecordError
        Where the line is empty, too long, has a second arrow, or one of its pieces is not one.

    Examples
    --------
    >>> str(parse_scenario("command start ; wait 3 s ; hood open -> ignition off, starter off"))
    'command start · wait 3 s · hood open → ignition off, starter off'
    """
    if len(line) > LONGEST_LINE:
        raise RecordError(
            f"a line of {len(line)} characters", where, f"at most {LONGEST_LINE} characters"
        )
    text = line.replace("->", "→").replace(";", "·")
    done, arrow, follows = text.partition("→")
    if "→" in follows:
        raise RecordError("two arrows", where, "one '→' between what is done and what must follow")
    if not text.strip():
        raise RecordError("an empty line", where, "actions such as 'command start · hood open'")
    actions: tuple[Action | Wait, ...] = ()
    if done.strip():
        actions = tuple(
            parse_action(piece, f"{where}, action {n}")
            for n, piece in enumerate(done.split("·"), start=1)
        )
    expects: tuple[Expect, ...] = ()
    if arrow:
        expects = tuple(
            parse_expect(piece, f"{where}, after the arrow, {n}")
            for n, piece in enumerate(follows.split(","), start=1)
        )
    return Scenario(actions, expects)
