"""The rules once more, as Promela expressions over the marks of a state and of a step."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from startwright.car.start_control import MODE, OFF, RUN
from startwright.prove.currents import SPARE
from startwright.prove.promela_text import MOST_ENTRIES, word
from startwright.prove.promela_twins import by_starts as _codes
from startwright.prove.promela_twins import telling
from startwright.prove.rules import OVERRUN_S
from startwright.prove.tables import TooLarge
from startwright.records.words import KEY_POSITIONS

if TYPE_CHECKING:
    from startwright.prove.promela import Writer

STATE_RULES = (
    "crank-only-when-safe",
    "no-crank-into-running",
    "brake-ends",
    "hood-ends",
    "leaving-park-ends",
    "start-ends",
    "key-has-last-word",
    "locks-on-command",
    "start-through-interlock",
    "immobilizer-only-while-starting",
    "no-short",
    "car-unchanged",
    "only-what-is-called",
    "as-under-the-key",
    "within-limits",
    "settles",
)
"""The rules SPIN looks at; `breach N` in its output is the Nth of them."""


def _limits(writer: Writer) -> Iterator[str]:
    """An inline that tells an overload, and a feed whose islands draw too much together."""
    observer = writer.marks.observer
    overload, feeds = observer.overloaded()
    told = f"c_code {{ breach({STATE_RULES.index('within-limits')}); }}"
    brief = writer.by_codes(observer.briefly)
    yield "c_decl { static double amps_A;"
    for k, (_, tables) in enumerate(feeds):
        for n, table in enumerate(tables):
            if table.data.size > MOST_ENTRIES:
                raise TooLarge(f"a table of {table.data.size} entries")
            values = ",".join(repr(float(v)) for v in table.data.ravel())
            yield f"  static const double DRAW_{k}_{n}[{table.data.size}] = {{{values}}};"
    yield "}"
    yield "inline look_at_limits() {"
    yield f"  if :: {writer.mark(overload)} -> {told} :: else fi;"
    for k, (feed, tables) in enumerate(feeds):
        yield "  c_code { amps_A = 0; };"
        for n, table in enumerate(tables):
            yield f"  spot = {writer.index(table)};"
            yield f"  c_code {{ amps_A += DRAW_{k}_{n}[now.spot]; }};"
        yield f"  if :: {brief} && c_expr {{ amps_A > {feed.short_A * SPARE!r} }} -> {told}"
        yield f"  :: !{brief} && c_expr {{ amps_A > {feed.long_A * SPARE!r} }} -> {told}"
        yield "  :: else fi; spot = 0;"
    yield "  skip"
    yield "}"


def breaches(writer: Writer) -> Iterator[str]:
    """An inline `look` that tells every rule broken in the state just reached."""
    model, marks = writer.model, writer.marks
    vehicle = model.car.job.vehicle
    tells = any(c.tells == "park" for c in vehicle.of("park_neutral"))
    moves = "gear != 0" if tells else "gear == 2"
    times = [writer.unit.time_s(s) for s in model.starts]
    bare = any(c.interlock in (None, "none", "mechanical") for c in vehicle.of("starter"))
    steps = writer.unit.steps
    alike = [
        f"({_codes(writer, [s.mode == 'step' and steps[s.step].like == k for s in model.starts])}"
        f" && {writer.mark(marks[f'unlike_{k}'])})"
        for k in KEY_POSITIONS
        if any(s.like == k for s in steps)
    ]
    yield f"#define FS {writer.mark(marks['fed_starter'])}"
    yield f"#define FI {writer.mark(marks['fed_ignition'])}"
    yield f"#define MOVES ({moves})"
    yield f"#define LETS_GO {_codes(writer, [s.mode == 'release' for s in model.starts])}"
    bad = {
        "crank-only-when-safe": "FS && (hood || MOVES) && !LETS_GO",
        "no-crank-into-running": "motion == 2 && FS && "
        + _codes(writer, [t is None or t > OVERRUN_S for t in times]),
        "brake-ends": "brake && (FS || FI) && !LETS_GO",
        "hood-ends": "hood && (FS || FI) && !LETS_GO",
        "leaving-park-ends": "MOVES && (FS || FI) && !LETS_GO",
        "start-ends": "start == 0 && (FS || FI)",
        "key-has-last-word": "start == 0 && motion == 2 && (key < 3 || (key == 3 && FS))",
        "locks-on-command": f"{writer.mark(marks['moved_uncalled'])} || "
        f"({writer.mark(marks['fed_lock'])} && {writer.mark(marks['fed_unlock'])})",
        "start-through-interlock": writer.mark(marks["past_interlock"])
        + (" || (FS && MOVES && !LETS_GO)" if bare else ""),
        "immobilizer-only-while-starting": f"{writer.mark(marks['interface_on'])} && !"
        + _codes(writer, [s.mode == "step" for s in model.starts]),
        "no-short": writer.mark(marks["short"]),
        "car-unchanged": writer.mark(marks["changed"]),
        "only-what-is-called": writer.mark(marks["uncalled"]),
        "as-under-the-key": f"key <= 1 && ({' || '.join(alike) or '0'})",
    }
    yield from telling(writer, moves)
    yield from _limits(writer)
    yield "inline look() {"
    yield "  settle_open(); look_at_twins(); look_at_limits();"
    for k, slug in enumerate(bad):
        yield f"  if :: {bad[slug]} -> c_code {{ breach({k}); }} :: else fi;"
    begins = STATE_RULES.index("no-crank-into-running")
    yield "  if :: !was_fs && FS && (was_motion == 2 || was_motion == 3) ->"
    yield f"    c_code {{ breach({begins}); }} :: else fi;"
    unasked = STATE_RULES.index("start-ends")
    yield "  if :: was_idle && start != 0 && chose != 1 ->"
    yield f"    c_code {{ breach({unasked}); }} :: else fi;"
    last = STATE_RULES.index("key-has-last-word")
    if not writer.unit.record.holds_after_key:
        yield "  if :: chose == 1 && was_idle && start != 0 && was_motion == 2 && was_key >= 3 ->"
        yield f"    c_code {{ breach({last}); }} :: else fi;"
    dead = writer.mark(marks["dead_under_key"])
    gap = "!was_idle && was_motion == 2 && ((was_key != 3 && key == 3) || (was_key == 3"
    gap += f" && !was_brake && brake)) && (({dead} && !was_dead) || motion != 2)"
    if model.car.imitates:
        stopped = f"was_idle && was_motion == 2 && was_key >= 3 && {word(MODE)} == {OFF}"
        deaf = f"!was_idle && was_motion == 2 && was_mode == {RUN}"
        gap = f"({stopped}) || ({deaf} && chose == 4 && motion == 2)"
    yield f"  if :: {gap} -> c_code {{ breach({last}); }} :: else fi;"
    for coil in writer.coils:
        yield f"  co_{word(coil)} = 0;"
    yield "  skip"
    yield "}"
