"""A breach told as a person would: the scenario line, the state in words, the runs concerned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from startwright.car.hybrid import TURNS, is_hybrid
from startwright.car.routes import guilty_runs
from startwright.car.surroundings import values
from startwright.prove.choices import Choice, action
from startwright.prove.explore import Explored
from startwright.prove.model import ENGINE, Model
from startwright.records.scenario import Action, Wait, parse_action
from startwright.records.words import KEY_POSITIONS

READY = ("not ready", "asked to become ready", "ready", "no longer ready", "ready")
"""What the words for an engine are for a hybrid, by `ENGINE`."""
JUST_BEFORE_S = 0.1
"""An engine that is lost just before a pause ends is lost so long before, s."""
LATER = ("lock", "unlock", "trunk", "panic", "start")
"""The commands whose pulse may still be under way if they are given later, or once more."""


@dataclass(frozen=True)
class Told:
    """How a state was reached: the line's actions, and the choices' names."""

    actions: tuple[str, ...]
    choices: tuple[str, ...]

    def line(self, expects: str = "") -> str:
        """The scenario line."""
        done = " · ".join(self.actions) or "wait 0.1 s"
        return f"{done} → {expects}" if expects else done


class Teller:
    """Tells how states of an exploration were reached."""

    def __init__(self, model: Model, moves: list[Choice], explored: Explored) -> None:
        self.model = model
        self.moves = moves
        self.explored = explored

    def tell(self, steps: Iterable[tuple[int, int]], free: dict[str, int] | None = None) -> Told:
        """The line for a way of (state, choice) steps, then the free surroundings set."""
        out: list[Action | Wait] = []
        names: list[str] = []
        due: dict[str, float] = {}
        now = 0.0
        manual = False
        steps = list(steps)
        for k, (state, choice) in enumerate(steps):
            row = self.explored.row(state)
            move = self.moves[choice]
            names.append(move.name)
            late = due.get("start", now) + self._until_lost(steps[k:]) - now
            if late > 1e-9:
                out.append(_wait(late))
                now += late
            words = move.tell(row)
            if words.startswith("wait "):
                seconds = float(words.split()[1])
                timer = _timer_of(move.name)
                end = due.pop(timer, now) + seconds
                if move.name == "time" and ENGINE[row["motion"]] == "turning":
                    out.append(Action("engine", "fails"))
                if end > now + 1e-9:
                    out.append(_wait(end - now))
                    now = end
            else:
                done = parse_action(words)
                manual = manual or words.startswith("engine")
                out.append(done)
            for timer in _restarted(move.name):
                due[timer] = now
        for name, value in (free or {}).items():
            out.append(parse_action(action(name, 0, value)))
        return Told(tuple(str(a) for a in _merged(out)), tuple(names))

    def _until_lost(self, steps: list[tuple[int, int]]) -> float:
        """How long a pause has lasted when the engine is lost so that it ends while that turns, s.

        0 where the first of the steps is not such a loss.
        """
        rows = [self.explored.row(state) for state, _ in steps[:2]]
        if ENGINE[rows[0]["motion"]] != "running" or ENGINE[rows[-1]["motion"]] != "coasting":
            return 0.0
        for state, choice in steps[1:]:
            row = self.explored.row(state)
            start = self.model.starts[row["start"]]
            if ENGINE[row["motion"]] != "coasting" or start.mode != "pause":
                break
            if self.moves[choice].name == "time":
                return max((self.model.unit.time_s(start) or 0.0) - JUST_BEFORE_S, 0.0)
        return 0.0


def _wait(seconds: float) -> Wait:
    """A wait as a line can say it, to the millisecond and no shorter than one."""
    return Wait(max(round(seconds, 3), 0.001))


def _timer_of(name: str) -> str:
    return {
        "time": "start",
        "coasts down": "coast",
        "window over": "window",
    }.get(name, "press")


def _restarted(name: str) -> tuple[str, ...]:
    if name in ("command start", "time"):
        return ("start",)
    if name == "engine starts":
        return ("start",)
    if name == "pulse over":
        return ("press",)
    if name.startswith("command"):
        return ("press", "window")
    return ("coast",)


def _merged(actions: list[Action | Wait]) -> list[Action | Wait]:
    out: list[Action | Wait] = []
    for a in actions:
        if isinstance(a, Wait) and out and isinstance(out[-1], Wait):
            out[-1] = _wait(out[-1].seconds + a.seconds)
        else:
            out.append(a)
    return out


def pressed_later(actions: Sequence[Action | Wait]) -> Iterator[list[Action | Wait]]:
    """The same done with a button pressed later: after what follows it, or after waits alone.

    Or just before a wait is over. Two presses in a row are moved as one too; a start is commanded
    once more, which a unit in a start ignores. Or a pulse that is waited for goes on while the rest
    is done.
    """
    for k, first in enumerate(actions):
        if not (isinstance(first, Action) and first.what == "command" and first.to in LATER):
            continue
        yield from _moved(actions, k, 1)
        if actions[k + 1 : k + 2] == actions[k : k + 1]:
            yield from _moved(actions, k, 2)
    for k, wait in enumerate(actions):
        later_s = sum(a.seconds for a in actions[k + 1 :] if isinstance(a, Wait))
        if isinstance(wait, Wait) and 0 < later_s < wait.seconds:
            shorter = _wait(wait.seconds - later_s + JUST_BEFORE_S)
            yield [*actions[:k], shorter, *actions[k + 1 :]]


def _moved(actions: Sequence[Action | Wait], k: int, times: int) -> Iterator[list[Action | Wait]]:
    press, after = actions[k : k + times], actions[k + times :]
    again = str(press[0]) == "command start"
    before = list(actions[: k + times * again])
    for end in range(len(after), 0, -1):
        passed, last = after[:end], after[end - 1]
        waits = [a for a in passed if isinstance(a, Wait)]
        done = [a for a in passed if not isinstance(a, Wait)]
        if waits:
            yield _merged([*before, *waits, *press, *done, *after[end:]])
        yield _merged([*before, *passed, *press, *after[end:]])
        if isinstance(last, Wait) and last.seconds > JUST_BEFORE_S:
            most = _wait(last.seconds - JUST_BEFORE_S)
            left = [Wait(JUST_BEFORE_S), *after[end:]]
            yield _merged([*before, *passed[:-1], most, *press, *left])


def describe(model: Model, row: dict[str, int]) -> str:
    """A state in words: hood, lever, key, pedal, unit, engine."""
    start = model.starts[row["start"]]
    said = [
        "hood open" if row["hood"] else "hood shut",
        f"lever in {values('gear')[row['gear']]}",
        f"key {_key_words(KEY_POSITIONS[row['key']])}",
    ]
    if row["brake"]:
        said.append("brake pressed")
    unit = {
        "idle": "the unit idle",
        "pause": "the unit waiting for its next try",
        "release": "the unit letting go",
        "ending": "the unit ending the start",
    }.get(start.mode, "") or f"the unit in step {model.unit.steps[start.step].step}"
    said.append(unit)
    if is_hybrid(model.car.job.vehicle):
        said.append(f"car {READY[row['motion']]}{_engine_of(row)}")
    else:
        said.append(f"engine {ENGINE[row['motion']]}")
    text = ", ".join(said)
    return text[0].upper() + text[1:] + "."


def _engine_of(row: dict[str, int]) -> str:
    """What the engine of a ready hybrid does, where that is of consequence."""
    if TURNS not in row or ENGINE[row["motion"]] != "running":
        return ""
    return ", its engine turning" if row[TURNS] else ", its engine at rest"


def asked_again(model: Model, row: dict[str, int], through: str) -> str:
    """A hybrid that is asked to become ready while it is: what the unit does, and why it does."""
    ready = ENGINE[row["motion"]] == "running"
    though = "it is ready already" if ready else "it was ready a moment ago"
    said = f"The unit asks the car to become ready though {though} ({through})."
    if ready and model.unit.signal == "tach":
        return f"{said} It listens for the engine, which may rest in a car that is ready."
    if ready and not model.unit.hears:
        return f"{said} It goes by time and cannot tell that the car is ready."
    return said


def _key_words(position: str) -> str:
    return position if position in ("out", "off") else f"in {position}"


def fed_through(model: Model, circuits: list[str]) -> tuple[str, list[str]]:
    """Through what circuits are fed, in words, and the runs on the way.

    What an imitated driver has turned on is fed through his pedal and button.
    """
    runs: list[str] = []
    through: list[str] = []
    vehicle = model.car.job.vehicle
    if model.car.imitates and any(c.key_fed for c in vehicle.circuits if c.id in circuits):
        worked = [c.id for c in vehicle.of("brake", "start_button")]
        circuits = [c for c in circuits if not vehicle.circuit(c).key_fed] + worked
    for circuit in circuits:
        found, parts = guilty_runs(model.car, circuit)
        runs += [r for r in found if r not in runs]
        through += [p for p in parts if p not in through]
    words = f" through {', '.join(through)}" if through else ""
    return words, runs
