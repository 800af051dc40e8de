"""The verbs. Each reads records, asks one question and shows the answer; engines load late."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from startwright.cli.options import (
    Host,
    JobFile,
    JobOption,
    Json,
    Port,
    Shop,
    WiringFile,
    read,
)
from startwright.cli.proving import prove, status
from startwright.cli.run import NO, WELL
from startwright.records.errors import RecordError

if TYPE_CHECKING:
    from startwright.records import Plan, ProofReport, WholeJob

app = typer.Typer(
    name="startwright",
    help="What goes where, will it hold, is it safe, which wire is it: for remote-start control "
    "units.",
    epilog="Exit status: 0 all is well, 1 the answer is no, 2 the input is wrong, 3 not finished, "
    "a single fault or a pair that was tried among it.",
    invoke_without_command=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(version("startwright"))
        raise typer.Exit


@app.callback()
def _top(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="The version.")
    ] = False,
) -> None:
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


# -- plan -----------------------------------------------------------------------------------------


@app.command(short_help="What goes where.")
def plan(
    job: JobFile,
    shop: Shop = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the plan to this file.")
    ] = None,
    alternatives: Annotated[
        int, typer.Option(min=0, max=20, metavar="N", help="Tell the next N best plans too.")
    ] = 0,
    json: Json = False,
) -> int:
    """What goes where: a plan that holds and is proven, or why there is none."""
    from startwright.cli import pages, show
    from startwright.job import work
    from startwright.records import Plan
    from startwright.records.write import to_plain, write

    whole, _ = read(job, shop)
    outcome = work(whole, alternatives=alternatives)
    if outcome.refusal is not None or outcome.plan is None:
        if json:
            show.as_json(outcome.refusal)
        elif outcome.refusal is not None:
            pages.no_plan(outcome.refusal)
        return NO
    bare = outcome.plan.bare()
    if not bare.alternatives:
        bare = Plan.model_construct(bare.model_fields_set - {"alternatives"}, **dict(bare))
    if out is not None:
        write(out, bare)
    if json:
        show.as_json(to_plain(bare))
    else:
        pages.plan(whole, bare, outcome.size, outcome.proof)
        pages.alternatives(outcome.plan)
        if out is not None:
            show.say(f"written to {out}")
    return WELL


# -- size -----------------------------------------------------------------------------------------


@app.command(short_help="Will it hold.")
def size(
    wiring: Annotated[
        Path | None,
        typer.Argument(
            metavar="PLAN-OR-WIRING", help="A plan or a bare wiring.", show_default=False
        ),
    ] = None,
    job: Annotated[Path | None, typer.Option("--job", metavar="JOB", help="The job file.")] = None,
    shop: Shop = None,
    load: Annotated[
        float | None, typer.Option(metavar="A", help="Instead of a wiring: one load, in amperes …")
    ] = None,
    length: Annotated[
        float | None, typer.Option(metavar="M", help="… at the end of a wire, in metres one way.")
    ] = None,
    drop: Annotated[
        float, typer.Option(metavar="SHARE", help="With --load: the voltage it may lose, of 12 V.")
    ] = 0.03,
    insulation: Annotated[
        float, typer.Option(metavar="C", help="With --load: the hottest the insulation may be.")
    ] = 105.0,
    bundled: Annotated[
        int, typer.Option(min=1, max=100, metavar="N", help="With --load: wires in the bundle.")
    ] = 1,
    fuse: Annotated[bool, typer.Option(help="With --load: whether a fuse protects it.")] = True,
    ambient: Annotated[float, typer.Option(metavar="C", help="Air around the wires.")] = 30.0,
    battery: Annotated[
        float, typer.Option(metavar="C", help="The battery while cranking and parked.")
    ] = -18.0,
    charge: Annotated[
        float, typer.Option(min=0.0, max=1.0, metavar="SHARE", help="Its state of charge.")
    ] = 1.0,
    why: Annotated[
        str | None,
        typer.Option(
            metavar="ID",
            help="Unfold one run, fuse or contact, `starting` or `parked`: formulas, clauses, "
            "table rows, record lines.",
        ),
    ] = None,
    json: Json = False,
) -> int:
    """Will it hold: wires, fuses, contacts, cranking, parking; or one load on one wire."""
    from startwright.cli import pages, show

    if load is not None or length is not None:
        if load is None or length is None or wiring is not None or job is not None:
            raise RecordError(
                "half a question",
                "startwright size",
                "`--load A --length M`, or PLAN-OR-WIRING with `--job JOB`",
            )
        from startwright.size import single

        answer = single(
            load,
            length,
            max_drop_share=drop,
            insulation_C=insulation,
            ambient_C=ambient,
            bundled=bundled,
            fuse=fuse,
        )
        show.as_json(answer) if json else pages.single(answer)
        return WELL
    if wiring is None or job is None:
        raise RecordError(
            "nothing to size",
            "startwright size",
            "PLAN-OR-WIRING with `--job JOB`, or `--load A --length M`",
        )
    from startwright.records.lines import Lines
    from startwright.size import size as ask

    lines = Lines()
    whole, built = read(job, shop, wiring, lines)
    report = ask(whole, built, ambient_C=ambient, battery_C=battery, charge=charge)
    if why is not None:
        from startwright.size.why import rows_named
        from startwright.size.why import why as unfold

        unfolded = unfold(whole, built, report, why, lines=lines, ambient_C=ambient)
        if json:
            told = rows_named(report, why)[0][1]
            show.as_json({**told, "why": unfolded.as_json()})
        else:
            pages.size_why(unfolded)
    else:
        show.as_json(report) if json else pages.size(report)
    return WELL if report.verdict == "holds" else NO


# -- prove ----------------------------------------------------------------------------------------

app.command(short_help="Is it safe, and what if one thing breaks.")(prove)


# -- sheets ---------------------------------------------------------------------------------------


@app.command(short_help="Print it.")
def sheets(
    wiring: WiringFile,
    job: JobOption,
    shop: Shop = None,
    out: Annotated[Path, typer.Option(metavar="FOLDER", help="Where the sheets go.")] = Path(
        "sheets"
    ),
    paper: Annotated[str, typer.Option(metavar="PAPER", help="`a4` or `us-letter`.")] = "a4",
    faults: Annotated[
        bool,
        typer.Option("--faults", help="Try every single fault and write the failure-mode sheet."),
    ] = False,
    json: Json = False,
) -> int:
    """Print it: the loom as a drawing and the bench sheet; stamped where it is not proven."""
    from startwright.cli import show
    from startwright.prove import prove as ask_proof
    from startwright.sheets import write_sheets
    from startwright.sheets.effects import unfinished
    from startwright.size import size as ask_size

    if paper not in ("a4", "us-letter"):
        raise RecordError(f"the paper {paper[:40]!r}", "--paper", "a4 or us-letter")
    whole, _ = read(job, shop)
    made = _as_plan(whole, wiring)
    sized, proof = (
        ask_size(whole, made.wiring),
        ask_proof(whole, made.wiring, faults=faults, pairs=faults),
    )
    files = write_sheets(
        whole,
        made,
        sized,
        proof,
        out,
        paper=paper,  # type: ignore[arg-type]
        faults=faults and proof.faults is not None,
    )
    if json:
        show.as_json(
            {
                "files": [str(f) for f in files],
                "size": sized.verdict,
                "proof": proof.verdict,
                "not_finished": _left(proof) if faults else None,
            }
        )
    else:
        show.say(*(str(f) for f in files))
        well = proof.verdict == "proven" and sized.verdict == "holds"
        show.verdict(proof.verdict, f", it {sized.verdict}", well=well)
        if open_ends := unfinished(proof):
            show.say(f"! {open_ends}", style="yellow")
    return NO if proof.verdict == "proven" and sized.verdict != "holds" else status(proof)


def _left(proof: ProofReport) -> dict[str, int]:
    """How many faults and pairs were not finished."""
    from startwright.sheets.effects import not_finished

    faults, pairs = not_finished(proof)
    return {"faults": faults, "pairs": pairs}


def _as_plan(job: WholeJob, file: Path) -> Plan:
    """The plan of a file, or a plan around a bare wiring."""
    from startwright.records import Plan
    from startwright.records.read import parse_wiring_or_plan, read_text

    record = parse_wiring_or_plan(read_text(file), str(file))
    if isinstance(record, Plan):
        return record
    return Plan(format="startwright/plan/1", job=job.id, wiring=record)


# -- identify -------------------------------------------------------------------------------------


@app.command(short_help="Which wire is it.")
def identify(
    recording: Annotated[
        Path | None,
        typer.Argument(
            metavar="RECORDING-OR-READINGS",
            help="A recording (CSV, VCD, sigrok session, WAV) or readings (YAML, JSON).",
        ),
    ] = None,
    actions: Annotated[
        Path | None, typer.Option(metavar="FILE", help="What was done when: time_s,action.")
    ] = None,
    wires: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Where each wire is: wire,place,plug,…")
    ] = None,
    rate: Annotated[
        float | None, typer.Option(metavar="HZ", help="Samples a second, if the file is silent.")
    ] = None,
    diesel: Annotated[
        bool | None, typer.Option("--diesel/--petrol", help="Whether it has glow plugs.")
    ] = None,
    rpm: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Engine speed by the diagnostic connector: time_s,rpm."),
    ] = None,
    saw: Annotated[
        list[str] | None,
        typer.Option(metavar="WHAT=ANSWER", help="Of the immobilizer: key=plain_metal, …"),
    ] = None,
    sister: Annotated[
        list[str] | None,
        typer.Option(metavar="KIND", help="The immobilizer of a sister car's record."),
    ] = None,
    json: Json = False,
) -> int:
    """Which wire is it, how sure is that, what to leave alone, what to measure next.

    With --saw in place of a file: is an immobilizer fitted, and what to look at next.
    """
    from startwright.cli import pages, show
    from startwright.cli.wires import identified, immobilizer

    if recording is None or saw or sister:
        if recording is not None:
            raise RecordError("a file beside --saw", "identify", "one question at a time")
        verdict = immobilizer(saw or [], sister or [])
        show.as_json(verdict) if json else pages.immobilizer(verdict)
        return WELL
    report = identified(recording, actions, wires, rate_hz=rate, diesel=diesel, speeds=rpm)
    show.as_json(report) if json else pages.identified(report)
    return WELL


# -- the app --------------------------------------------------------------------------------------


@app.command(short_help="The app, on your folder of records.")
def serve(
    folder: Annotated[
        Path, typer.Option(metavar="FOLDER", help="The shop: jobs/ vehicles/ units/ stock/.")
    ] = Path(),
    host: Host = "127.0.0.1",
    port: Port = 8321,
) -> int:
    """The app, for bench and phone, on a folder of records."""
    from startwright.cli.serving import serve as run

    return run(folder, host, port, browser=False)


@app.command("try", short_help="The app, on the invented shop.")
def try_(
    host: Host = "127.0.0.1",
    port: Port = 8321,
    browser: Annotated[bool, typer.Option(help="Open it in the browser.")] = True,
) -> int:
    """The app on a copy of the invented shop, which is thrown away at the end."""
    import shutil
    import tempfile

    from startwright.cli.serving import serve as run
    from startwright.example import path

    with tempfile.TemporaryDirectory(prefix="startwright-") as folder:
        shop = Path(folder) / "shop"
        shutil.copytree(path(), shop, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
        return run(shop, host, port, browser=browser)
