"""What several verbs are given: the job, the wiring, the shop, the address to listen at."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

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
Host = Annotated[str, typer.Option(help="The address to listen at.")]
Port = Annotated[int, typer.Option(min=0, max=65535, help="The port to listen at; 0: any free.")]
