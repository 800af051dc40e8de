"""What every sheet begins with: whose it is, what it was made from, whether it may be built."""

from __future__ import annotations

import hashlib
from importlib import metadata
from typing import Any

from startwright.records import Plan, ProofReport, RecordError, WholeJob
from startwright.sheets.ends import Web
from startwright.sheets.labels import said
from startwright.sheets.typeset import Paper, qr_svg

WANT_WORDS = {
    "remote_start": "remote start",
    "lock_unlock": "lock and unlock",
    "driver_first_unlock": "driver's door first",
    "trunk_release": "trunk release",
    "light_flash": "lights flash",
    "horn_chirp": "horn chirps",
    "panic": "panic",
    "seat_heat": "seat heater",
    "rear_defog": "rear defogger",
    "starter_cut": "starter cut",
    "armed_output": "armed output",
}
"""What the customer asked for, as one says it."""


def check_given(job: WholeJob, plan: Plan, paper: Paper) -> None:
    """Refuse a plan of another job, and paper that is none.

    Raises
    ------
    RecordError
        For either.
    """
    if plan.job != job.id:
        raise RecordError(f"a plan of job {plan.job!r}", "plan.job", f"{job.id!r}, the job given")
    if paper not in ("a4", "us-letter"):
        raise RecordError(f"paper {paper!r}", "paper", "a4 or us-letter")


def fingerprint(job: WholeJob, plan: Plan) -> str:
    """What the sheet was made from, as SHA-256 over both records in JSON, 64 letters."""
    both = job.model_dump_json(by_alias=True) + "\n" + plan.model_dump_json(by_alias=True)
    return hashlib.sha256(both.encode()).hexdigest()


def wanted(job: WholeJob) -> str:
    """What the customer asked for, on one line."""
    return ", ".join(WANT_WORDS[want] for want in job.wants)


def version() -> str:
    """The version of this package, for the head of a sheet."""
    try:
        return metadata.version("startwright")
    except metadata.PackageNotFoundError:
        return "not installed"


def head_data(
    title: str, web: Web, plan: Plan, proof: ProofReport | None, paper: Paper
) -> dict[str, Any]:
    """What stands at the head and foot of every sheet."""
    job = web.job
    mark = fingerprint(job, plan)
    return {
        "title": title,
        "paper": paper,
        "job": job.id,
        "customer": job.customer or "",
        "version": version(),
        "mark": mark[:16],
        "qr": qr_svg(f"startwright:job/{job.id}?sha256={mark[:32]}"),
        "stamp": stamp(proof),
        "vehicle": _vehicle(job),
        "unit": job.unit.name or job.unit.id,
        "unit_place": web.tree.root,
    }


def stamp(proof: ProofReport | None) -> str:
    """What is stamped across every page; empty where the plan is proven."""
    if proof is not None and proof.verdict == "proven":
        return ""
    if proof is not None and proof.verdict == "breached":
        return "NOT PROVEN · BREACHED"
    return "NOT PROVEN"


def _vehicle(job: WholeJob) -> list[tuple[str, str]]:
    v = job.vehicle
    name = " ".join(w for w in (v.make, v.model, v.trim) if w) or v.id
    years = f"{v.years[0]} to {v.years[1]}" if v.years else ""
    engine = f"{v.engine.cylinders} cylinders, {said(v.engine.ignition)}, {v.engine.fuel}"
    immobilizer = said(v.immobilizer.kind)
    return [
        ("Car", " · ".join(w for w in (name, years) if w)),
        ("Engine", engine),
        ("Gearbox, key", f"{v.gearbox}, {said(v.start)}; immobilizer: {immobilizer}"),
    ]
