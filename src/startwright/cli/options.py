"""What several verbs are given, and how the records among it are read."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from startwright.records import WholeJob
    from startwright.records.lines import Lines

JobFile = Annotated[Path, typer.Argument(metavar="JOB", help="The job file.")]
WiringFile = Annotated[
    Path, typer.Argument(metavar="PLAN-OR-WIRING", help="A plan or a bare wiring.")
]
JobOption = Annotated[Path, typer.Option("--job", metavar="JOB", help="The job file.")]
Shop = Annotated[
    Path | None,
    typer.Option(
        "--shop",
        metavar="FOLDER",
        help="Where ids are looked up; by default the job's folder and the one above it.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="One JSON document and nothing else.")]
Host = Annotated[str, typer.Option(metavar="ADDRESS", help="The address to listen at.")]
Port = Annotated[
    int,
    typer.Option(min=0, max=65535, metavar="N", help="The port to listen at; 0: any free."),
]


def read(
    job: Path, shop: Path | None, wiring: Path | None = None, lines: Lines | None = None
) -> tuple[WholeJob, Any]:
    """Read a job with the records it names, and a wiring where one is given."""
    from startwright.records.errors import RecordError
    from startwright.records.read import read_job, read_wiring

    if shop is not None and not shop.is_dir():
        raise RecordError("no such folder", str(shop), "the folder of the shop's records")
    whole = read_job(job, shop, lines=lines)
    return whole, read_wiring(wiring, lines=lines) if wiring is not None else None
