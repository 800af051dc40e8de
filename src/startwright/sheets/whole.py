"""Every sheet of a wiring into a folder, each whole or not at all."""

from __future__ import annotations

from pathlib import Path

from startwright.records import Plan, ProofReport, RecordError, SizeReport, WholeJob
from startwright.records.write import write_bytes
from startwright.sheets.bench import bench_pdf, broken_runs
from startwright.sheets.customer import customer_pdf
from startwright.sheets.failure_modes import failure_modes_pdf
from startwright.sheets.loom import loom_svg
from startwright.sheets.typeset import Paper


def write_sheets(
    job: WholeJob,
    plan: Plan,
    size: SizeReport | None,
    proof: ProofReport | None,
    folder: Path,
    *,
    paper: Paper = "a4",
    customer: bool = False,
    faults: bool = False,
) -> list[Path]:
    """Write ``loom.svg`` and ``bench.pdf`` into a folder, which is made if need be.

    Parameters
    ----------
    job, plan, size, proof
        As `bench_pdf` takes them. Runs that take part in a breach are marked in the drawing.
    folder : Path
        Files of the same names there are replaced, each whole or not at all.
    paper : "a4" or "us-letter"
    customer : bool
        Write ``customer.pdf`` as well.
    faults : bool
        Write ``failure-modes.pdf`` as well; `proof` then has its faults.

    Returns
    -------
    list of Path
        The files, drawing first.

    Raises
    ------
    RecordError
        For records that do not fit together, or a folder that cannot be made; nothing is written
        then. Where a file cannot be written.
    """
    drawing = loom_svg(job, plan.wiring, guilty=broken_runs(plan, proof))
    made = {
        "loom.svg": drawing.encode(),
        "bench.pdf": bench_pdf(job, plan, size, proof, paper=paper),
    }
    if customer:
        made["customer.pdf"] = customer_pdf(job, plan, size, proof, paper=paper)
    if faults:
        made["failure-modes.pdf"] = failure_modes_pdf(job, plan, proof, paper=paper)
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError as error:
        raise RecordError("a file", str(folder), "a folder, or a name not in use") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise RecordError(
            f"a folder that cannot be made ({reason})", str(folder), "a place to write to"
        ) from error
    for name, content in made.items():
        write_bytes(folder / name, content)
    return [folder / name for name in made]
