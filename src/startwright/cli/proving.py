"""`prove`: the verdict, one rule unfolded, a line played, the fewest runs, a model for SPIN."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from startwright.cli.options import JobOption, Json, Shop, WiringFile, read
from startwright.cli.run import NO, WELL
from startwright.cli.stopped import NOT_FINISHED
from startwright.records.errors import RecordError

if TYPE_CHECKING:
    from startwright.records import ProofReport, WholeJob, Wiring
    from startwright.records.lines import Lines


def prove(
    wiring: WiringFile,
    job: JobOption,
    shop: Shop = None,
    faults: Annotated[
        bool, typer.Option("--faults", help="Every single fault too, and what it does.")
    ] = False,
    pairs: Annotated[
        bool,
        typer.Option(
            "--pairs", help="With the single faults, pairs of which nobody notices either alone."
        ),
    ] = False,
    why: Annotated[
        str | None,
        typer.Option(
            metavar="RULE",
            help="Unfold one rule: source, what tries it, each record line it rests on, and which "
            "change would have prevented a breach.",
        ),
    ] = None,
    play: Annotated[
        str | None,
        typer.Option(metavar="LINE", help="Play a scenario line instead, with real seconds."),
    ] = None,
    timeline: Annotated[
        str | None,
        typer.Option(
            metavar="LINE",
            help="Seconds and volts of a line instead, or of `start`, `failed-start`, `takeover`, "
            "`brake-stop`.",
        ),
    ] = None,
    battery: Annotated[
        float | None,
        typer.Option(metavar="C", help="With --timeline: battery and engine this cold."),
    ] = None,
    export: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the model as Promela, for SPIN to explore."),
    ] = None,
    shrink: Annotated[
        str | None,
        typer.Option(
            metavar="RULE",
            help="Instead: the fewest runs that still break this hazard or damage rule; `worst` "
            "for the first that is broken.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="With --shrink: write the small wiring to this file."),
    ] = None,
    most_states: Annotated[
        int, typer.Option(min=1, metavar="N", help="Give up after so many states.")
    ] = 20_000_000,
    json: Json = False,
) -> int:
    """Is it safe: every reachable state of the wired car, against every rule."""
    from startwright.cli import pages, show
    from startwright.records.lines import Lines

    _one_question(
        {"--play": play, "--timeline": timeline, "--shrink": shrink},
        {"--faults": faults, "--pairs": pairs, "--why": why, "--export": export},
        {"--out": (out, "--shrink", shrink), "--battery": (battery, "--timeline", timeline)},
    )
    _one_question({"--why": why}, {"--faults": faults, "--pairs": pairs}, {})
    lines = Lines()
    whole, built = read(job, shop, wiring, lines)
    if play is not None:
        from startwright.prove.playing import played

        answer = played(whole, built, play, "--play").as_json()
        show.as_json(answer) if json else pages.played(answer)
        return WELL if answer["holds"] else NO
    if timeline is not None:
        from startwright.cli.timed import timed

        return timed(whole, built, timeline, battery, json)
    if export is not None:
        from startwright.prove import export as told
        from startwright.records.write import write_text

        write_text(export, told(whole, built))
    if shrink is not None:
        return _shrink(whole, built, shrink, out, json)
    from startwright.prove import prove as ask

    report = ask(whole, built, faults=faults, pairs=pairs, most_states=most_states)
    if why is not None:
        _why(whole, built, report, why, lines, json)
    elif json:
        show.as_json(report)
    else:
        pages.proof(report)
    return status(report)


def status(report: ProofReport) -> int:
    """The exit status of a proof: well only where its faults, if tried, were finished too."""
    from startwright.sheets.effects import unfinished

    if report.verdict == "breached":
        return NO
    finished = report.verdict == "proven" and not unfinished(report)
    return WELL if finished else NOT_FINISHED


def _one_question(
    instead: dict[str, object],
    beside: dict[str, object],
    belongs: dict[str, tuple[object, str, object]],
) -> None:
    """Refuse options that the answer would leave out.

    Parameters
    ----------
    instead : dict
        What is answered instead of the proof.
    beside : dict
        What goes with the proof alone.
    belongs : dict
        For an option its value, the option it belongs to and the value of that.
    """
    where = "startwright prove"
    for name, (value, of, other) in belongs.items():
        if value is not None and other is None:
            raise RecordError(f"{name} without {of}", where, f"`{of} …` beside it")
    asked = [n for n, v in instead.items() if v is not None]
    more = asked[1:] + [n for n, v in beside.items() if v not in (None, False)]
    if asked and more:
        raise RecordError(f"{more[0]} beside {asked[0]}", where, "one of them: one question a time")


def _shrink(job: WholeJob, wiring: Wiring, slug: str, out: Path | None, json: bool) -> int:
    from startwright.cli import pages, show
    from startwright.prove import prove as ask
    from startwright.prove.shrink import smallest
    from startwright.records.write import write

    if slug == "worst":
        broken = [r.rule for r in ask(job, wiring).rules if r.holds is False and r.kind != "works"]
        if not broken:
            raise RecordError(
                "a wiring that breaks no hazard or damage rule", "--shrink", "a breach"
            )
        slug = broken[0]
    found = smallest(job, wiring, slug)
    if out is not None:
        write(out, found.wiring)
    if json:
        show.as_json(found.as_json())
    else:
        pages.shrunk(found, len(wiring.runs))
        if out is not None:
            show.say(f"written to {out}")
    return NO


def _why(
    job: WholeJob, wiring: Wiring, report: ProofReport, slug: str, lines: Lines, json: bool
) -> None:
    from startwright.cli import pages, show
    from startwright.prove.playing import played
    from startwright.prove.why import why

    unfolded = why(job, wiring, report, slug, lines=lines)
    rule = unfolded.result
    moments = played(job, wiring, rule.trace).as_json()["moments"] if rule.trace else []
    if json:
        told = rule.model_dump(mode="json")
        show.as_json({**told, "moments": moments, "why": unfolded.as_json()})
    else:
        pages.why(unfolded, moments)
