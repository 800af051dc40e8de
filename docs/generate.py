"""Write the generated pages under ``docs/reference/`` and the JSON Schemas of the records.

``python docs/generate.py`` writes them; a test says whether they are current.
"""

from __future__ import annotations

import datetime
import sys
import types
import typing
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from annotated_types import Ge, Gt, Le, Lt, MaxLen
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from startwright.car.fitted import thresholds
from startwright.records import base, words
from startwright.records.keys import meaning
from startwright.records.read import KINDS
from startwright.records.scenario import ACTIONS, FAULTS
from startwright.records.schema import SCHEMAS, schema_text
from startwright.records.unit import Commands, Guard, Lead, Step, Unit
from startwright.records.write import to_plain

ROOT = Path(__file__).resolve().parent.parent
REFERENCE = ROOT / "docs" / "reference"
SHIPPED = ROOT / "src" / "startwright" / "records" / "schemas"

MADE = "<!-- Made by docs/generate.py from the code; do not edit. -->\n\n"

THRESHOLD = ("pull", "on_V", "off_V")

NAMED: list[tuple[Any, str]] = [
    (words.Drive, "[function](#functions) or [signal](#functions)"),
    (words.Sense, "[function](#functions) or `service`"),
    (words.Function, "[function](#functions)"),
    (words.Want, "[want](#wants)"),
    (words.Colour, "colour"),
]


def pages() -> dict[Path, str]:
    """Every generated file and its text."""
    made = {SHIPPED / f"{kind}.json": schema_text(kind) for kind in SCHEMAS}
    made[REFERENCE / "records.md"] = records_page()
    made[REFERENCE / "unit-defaults.md"] = defaults_page()
    made[REFERENCE / "scenarios.md"] = scenarios_page()
    made[REFERENCE / "commands.md"] = commands_page()
    made[REFERENCE / "rules.md"] = rules_page()
    return made


# -- records --------------------------------------------------------------------------------------


def records_page() -> str:
    """Every key of every record."""
    out = [
        "# Records\n",
        MADE,
        "Everything written down is a record: YAML 1.2 for people (so `off`, `on`, `no` and dates "
        "are words), JSON for programs, with one schema for both. The first key is `format`. "
        "Every quantity carries its unit in its key. An unknown key, a wrong unit or a bad value "
        "is refused with file, line and path, what was found and what would be right. Reading a "
        "record and writing it again loses no value.\n",
        "A file holds at most 2 MiB, one document, 32 levels, 100 aliases and no tags; each key "
        "stands once. The JSON Schemas travel in the package under `records/schemas/`; what has "
        "to hold between keys is only checked by reading.\n",
        "| record | what it is |\n|---|---|",
    ]
    out += [f"| [{kind}](#{kind}) | {_first_line(model)} |" for kind, model in KINDS.items()]
    for kind, model in KINDS.items():
        out.append(f"\n## {kind}\n\n{_about(model)}\n")
        out.append(_table(model))
        for part in _parts(model, set(KINDS.values())):
            out.append(f"\n### {kind}: {_spaced(part.__name__)}\n\n{_about(part)}\n")
            out.append(_table(part))
    out.append("\n## Functions\n")
    out.append("| function | what is special |\n|---|---|")
    for function in words.FUNCTIONS:
        special = "says in which key positions it is `live`" if function in words.KEY_FED else ""
        if function in words.NEVER_TOUCHED:
            special = "listed only so that it can be kept away from"
        out.append(f"| `{function}` | {special} |")
    signals = ", ".join(f"`{s}`" for s in words.SIGNALS)
    out.append(f"\nSignals, low-current outputs for relays and interfaces: {signals}.\n")
    out.append("## Wants\n")
    out.append(", ".join(f"`{w}`" for w in words.WANTS) + ".\n")
    out.append("## Colours\n")
    out.append(
        "IEC 60757 letters, base first, then stripe (`GN/YE`): "
        + ", ".join(f"`{c}`" for c in words.COLOURS)
        + "."
    )
    return "\n".join(out) + "\n"


def _first_line(model: type) -> str:
    return (model.__doc__ or "").strip().splitlines()[0].replace("``", "`")


def _about(model: type) -> str:
    return " ".join((model.__doc__ or "").split()).replace("``", "`")


def _spaced(name: str) -> str:
    return "".join(f" {c.lower()}" if c.isupper() else c for c in name).strip()


def _table(model: type[BaseModel]) -> str:
    rows = ["| key | value | left out | what it means |", "|---|---|---|---|"]
    for name, field in model.model_fields.items():
        key = field.alias or name
        rows.append(
            f"| `{key}` | {_value(field.annotation, field)} | {_default(field)} "
            f"| {meaning(model.__name__, key)} |"
        )
    return "\n".join(rows)


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "must be there"
    value = field.default
    if value is None or value == [] or value == {}:
        return "nothing"
    if isinstance(value, BaseModel) or (isinstance(value, list) and len(str(value)) > 60):
        return (
            "[the default](unit-defaults.md)"
            if _unit_default(value)
            else "the defaults of its keys"
        )
    if isinstance(value, bool):
        return "`true`" if value else "`false`"
    if isinstance(value, list):
        return f"`[{', '.join(map(str, value))}]`"
    return f"`{value}`"


def _unit_default(value: Any) -> bool:
    return isinstance(value, Commands | list)


def _value(kind: Any, field: FieldInfo | None = None) -> str:
    for one, said in NAMED:
        if kind == one:
            return said
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if kind is base.ColourCode:
        return "[colour](#colours)"
    if origin is typing.Annotated:
        inner = _value(arguments[0])
        return inner + _bounds(arguments[1:])
    if origin in (typing.Union, types.UnionType):
        return " or ".join(dict.fromkeys(_value(a) for a in arguments if a is not type(None)))
    if origin is typing.Literal:
        return ", ".join(f"`{a}`" for a in arguments)
    if origin is list:
        return f"list of {_value(arguments[0])}"
    if origin is tuple:
        return f"list of {len(arguments)} ({_value(arguments[0])})"
    if origin is dict:
        return f"keys ({_value(arguments[0])}) with {_value(arguments[1])}"
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return f"*{_spaced(kind.__name__)}*"
    plain = {
        Any: "entry",
        str: "text",
        float: "number",
        int: "whole number",
        bool: "`true`, `false`",
    }
    said = {**plain, datetime.date: "date"}[kind]
    return said + (_bounds(field.metadata) if field is not None else "")


def _bounds(metadata: typing.Iterable[Any]) -> str:
    """What the limits of a number say; text limits are left to the schema."""
    said = []
    for one in metadata:
        for limit in getattr(one, "metadata", None) or [one]:
            if isinstance(limit, Gt):
                said.append(f"more than {limit.gt:g}")
            elif isinstance(limit, Ge):
                said.append(f"{limit.ge:g} or more")
            elif isinstance(limit, Lt):
                said.append(f"less than {limit.lt:g}")
            elif isinstance(limit, Le) and limit.le < 1e6:
                said.append(f"at most {limit.le:g}")
            elif isinstance(limit, MaxLen) and limit.max_length < 10_000:
                said.append(f"at most {limit.max_length}")
    return f" ({', '.join(said)})" if said else ""


def _parts(model: type[BaseModel], known: set[type]) -> Iterator[type[BaseModel]]:
    """The models within a model that are no records of their own, each once, top down."""
    for field in model.model_fields.values():
        for part in _models(field.annotation):
            if part not in known:
                known.add(part)
                yield part
                yield from _parts(part, known)


def _models(kind: Any) -> Iterator[type[BaseModel]]:
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        yield kind
    for argument in typing.get_args(kind):
        yield from _models(argument)


# -- what a unit does by default ------------------------------------------------------------------


def defaults_page() -> str:
    """What a unit record that says nothing takes."""
    fields = Unit.model_fields
    out = [
        "# What a unit does by default\n",
        MADE,
        "A key that a unit record leaves out takes the package's default. It is what a common unit "
        "of the trade does (common practice, no source); a record of a real unit should say what "
        "its manual says.\n",
        "| key | default |\n|---|---|",
    ]
    for name, field in fields.items():
        if not field.is_required() and not isinstance(field.default, list | BaseModel):
            out.append(f"| `{name}` | {_default(field)} |")
    refuses = ", ".join(f"`{r}`" for r in fields["refuses"].default)
    out.append(f"| `refuses` | {refuses} |")
    out.append("\n## leads\n\n| key | default |\n|---|---|")
    for name, field in Lead.model_fields.items():
        if not field.is_required():
            out.append(f"| `{name}` | {_lead_default(name, field)} |")
    out.append("\n## guards\n\nA start begins, and goes on, only while each input reads so.\n")
    out.append("| input | reads |\n|---|---|")
    guards: list[Guard] = fields["guards"].default
    out += [f"| `{guard.input}` | `{guard.reads}` |" for guard in guards]
    out.append("\n## sequence\n\n| step | drives | like | how long | then |\n|---|---|---|---|---|")
    steps: list[Step] = fields["sequence"].default
    for step in steps:
        drives = ", ".join(f"`{d}`" for d in step.drives)
        long = _how_long(step)
        out.append(f"| `{step.step}` | {drives} | `{step.like}` | {long} | `{step.on_timeout}` |")
    out.append("\n## commands\n\nPulses one after another.\n\n| press | pulses |\n|---|---|")
    for press, pulses in to_plain(fields["commands"].default).items():
        said = "; ".join(
            f"{', '.join(f'`{d}`' for d in p['drives'])} {p['pulse_s']} s"
            + (f", repeated for {p['repeat_s']} s" if "repeat_s" in p else "")
            for p in pulses
        )
        out.append(f"| `{press}` | {said} |")
    return "\n".join(out) + "\n"


def _lead_default(name: str, field: FieldInfo) -> str:
    if name == "switch":
        return "`relay` from 10 A, else `transistor`"
    if name == "active":
        return "inputs: `battery` for `brake` and `charge_lamp`, else `ground`"
    if name in THRESHOLD:
        n = THRESHOLD.index(name) + 1
        levels = typing.get_args(words.ActiveLevel)
        said = {level: thresholds(_input(level))[n] for level in levels}
        return ", ".join(f"active at `{level}`: `{value}`" for level, value in said.items())
    return _default(field)


def _input(level: typing.Any) -> Lead:
    return Lead(id="x", way="in", senses="hood", active=level)


def _how_long(step: Step) -> str:
    said = []
    if step.for_s is not None:
        said.append(f"{step.for_s:g} s")
    if step.or_until is not None:
        said.append(f"or until `{step.or_until}`")
    if step.until is not None:
        said.append(f"until `{step.until}`")
    if step.at_most_s is not None:
        said.append(f"at most {step.at_most_s:g} s")
    return ", ".join(said)


# -- scenarios ------------------------------------------------------------------------------------


def scenarios_page() -> str:
    """The words of scenario lines."""
    out = [
        "# Scenario lines\n",
        MADE,
        "A scenario is a line: what is done, in order, joined by `·` (or `;`), and what must "
        "follow after `→` (or `->`), joined by commas. A breach prints as such a line, and the "
        "line replays (`startwright prove --play`).\n",
        "    command start · wait 3 s · hood open → ignition off, starter off\n",
        "It begins with the car parked: key out, all shut, park, engine stopped, unit idle.\n",
        "## Actions\n",
        "| what | can |\n|---|---|",
    ]
    out += [f"| `{w}` | {', '.join(f'`{t}`' for t in to)} |" for w, to in ACTIONS.items()]
    out.append("| `wait` | `N s`, such as `wait 3 s` |")
    faults = ", ".join(f"`{f}`" for f in FAULTS)
    out.append(f"| `fault` | a run, part or lead, and {faults}, such as `fault r7 open` |")
    out.append("\n## What must follow\n")
    out.append("| what | is |\n|---|---|")
    out.append("| a function or a circuit's id | `on` (at its active level), `off` |")
    out.append("| `engine` | `runs`, `stands` |")
    out.append("| `unit` | `idle` |")
    return "\n".join(out) + "\n"


# -- commands -------------------------------------------------------------------------------------


def commands_page() -> str:
    """Every verb with its arguments and options, and what `--json` prints."""
    import typer

    from startwright.cli import app

    group: Any = typer.main.get_command(app)
    out = [
        "# Commands\n",
        MADE,
        "Exit status: 0 all is well, 1 the answer is no (breached, fails, no plan), 2 the input is "
        "wrong, 3 not finished (of a proven wiring a single fault or a pair that was tried, "
        "too) or stopped (Ctrl-C). A reader that closes the pipe "
        "early changes nothing. With `--json` standard output is one JSON document and nothing "
        "else, errors included. Every command that takes a plan takes a bare wiring too.\n",
        "| verb | what it asks |\n|---|---|",
    ]
    verbs = dict(group.commands)
    out += [
        f"| [`startwright {n}`](#startwright-{n}) | {_sentence(v.help)} |" for n, v in verbs.items()
    ]
    for name, verb in verbs.items():
        arguments = [p for p in verb.params if p.param_type_name == "argument"]
        options = [p for p in verb.params if p.param_type_name == "option"]
        words = [name, *(a.metavar if a.required else f"[{a.metavar}]" for a in arguments)]
        words += [f"{o.opts[0]} {o.metavar}" for o in options if o.required]
        out.append(f"\n## startwright {name}\n\n{_sentence(verb.help)}\n")
        out.append(f"    startwright {' '.join(words)} [OPTIONS]\n")
        out.append("| word | left out | what it does |\n|---|---|---|")
        for argument in arguments:
            left = "must be there" if argument.required else "nothing"
            out.append(f"| `{argument.metavar}` | {left} | {argument.help} |")
        for option in options:
            spelled = ", ".join(f"`{o}`" for o in [*option.opts, *option.secondary_opts])
            unit = f" `{option.metavar}`" if option.metavar else ""
            out.append(f"| {spelled}{unit} | {_left_out(option)} | {option.help} |")
    out.append("\n## What --json prints\n")
    out.append(
        "`plan`: a [plan record](records.md#plan), with `alternatives` where asked for; where "
        "there is none, `startwright/no-plan/1` with `reasons` and `resolve`. `prove` and `size`: "
        "the reports whose JSON Schemas travel in the package (`proof.json`, `size.json`, and "
        "`timeline.json` for `--timeline`). An error, whatever the command:\n"
    )
    out.append(_example(["plan", "nowhere.yaml"]))
    out.append("\nOne load on one wire:\n")
    out.append(_example(["size", "--load", "12", "--length", "4"]))
    return "\n".join(out) + "\n"


def _sentence(text: str) -> str:
    return " ".join(text.split())


def _left_out(option: Any) -> str:
    if option.required:
        return "must be there"
    value = option.default
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"`{value}`"


def _example(arguments: list[str]) -> str:
    """A command and the JSON it prints now."""
    import contextlib
    import io

    from startwright.cli.run import run

    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        run([*arguments, "--json"])
    command = f"$ startwright {' '.join(arguments)} --json"
    return f"```console\n{command}\n{printed.getvalue()}```"


# -- rules ----------------------------------------------------------------------------------------

ASKED_FOR = {
    "immobilizer-only-while-starting": "An interface is enabled only in the unit's steps.",
    "coils-suppressed": "Every coil on a transistor lead is quenched, at the coil or in the lead.",
    "unlocks-driver": "A first unlock command opens the driver's door alone.",
    "opens-trunk": "A trunk command opens the trunk.",
    "panics": "A panic command sounds the horn and lights the lamps.",
    "heats-seat": "The seat heater works while the unit lets the engine run.",
    "defogs": "The rear defogger works while the unit lets the engine run.",
    "cuts-starter": "The starter stays dead while the unit is armed.",
    "shows-armed": "The armed output works while the unit is armed.",
}
"""Rules that the plain job does not ask for, in a sentence."""


def rules_page() -> str:
    """Every rule, as the proof of the invented shop's plain job names them."""
    from startwright.example import path
    from startwright.prove import prove
    from startwright.records.read import read_job, read_wiring

    job = read_job(path() / "jobs" / "plain.yaml")
    report = prove(job, read_wiring(path() / "wirings" / "plain.yaml"))
    out = [
        "# Rules\n",
        MADE,
        "What must hold in every reachable state, and on every step between two. A rule holds only "
        "where the situation in which it bites was reached; a rule whose want was not asked for "
        "does not apply. `startwright prove --why RULE` unfolds one.\n",
        "| rule | kind | holds when | source |\n|---|---|---|---|",
    ]
    for rule in report.rules:
        says = rule.says if rule.holds else ASKED_FOR[rule.rule]
        out.append(f"| `{rule.rule}` | {rule.kind} | {says} | {rule.source or ''} |")
    return "\n".join(out) + "\n"


def main(write: Callable[[str], object] = sys.stdout.write) -> None:
    """Write every page whose text is not current."""
    for path, text in pages().items():
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
            write(f"{path.relative_to(ROOT)}\n")


if __name__ == "__main__":
    main()
