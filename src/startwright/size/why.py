"""A number of `size` unfolded: formula, publication and clause, table rows, inputs with lines."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from math import sqrt
from typing import Any

from startwright.physics.drop import CRITICAL_SHARE, LESS_CRITICAL_SHARE
from startwright.physics.fuse import kind_of
from startwright.physics.short import adiabatic_k, final_C
from startwright.physics.wire import ambient_factor, awg_to_mm2, copper_factor, ohm_per_m
from startwright.records.errors import RecordError
from startwright.records.job import WholeJob
from startwright.records.lines import Lines, Point
from startwright.records.reports import SizeReport
from startwright.records.wiring import Wiring
from startwright.reference.ampacities import (
    COLUMNS_C,
    ampacity_sizes,
    bundle_factor,
    table_ampacity_A,
)
from startwright.reference.conductors import awg_name, max_ohm_per_km
from startwright.reference.tables import citation, rows
from startwright.size.fuses import FROM_C
from startwright.size.loads import CRITICAL
from startwright.size.why_battery import (
    parked_inputs,
    parked_numbers,
    starting_inputs,
    starting_numbers,
)
from startwright.size.why_inputs import contact_inputs, fuse_inputs, run_inputs
from startwright.size.why_number import AT_V, READ, Number, around

PARTS = ("starting", "parked")


@dataclass(frozen=True)
class SizeWhy:
    """A row of `size` unfolded: its numbers, and the record lines that went in."""

    id: str
    says: str
    holds: bool
    numbers: tuple[Number, ...]
    inputs: tuple[Point, ...]

    def as_json(self) -> dict[str, Any]:
        """The same for programs."""
        numbers = [{**asdict(n), "table": list(n.table)} for n in self.numbers]
        return {"numbers": numbers, "inputs": [p.as_json() for p in self.inputs]}


def rows_named(report: SizeReport, id: str) -> list[tuple[str, dict[str, Any]]]:
    """The rows of that id with the list each stands in: ``runs``, ``fuses`` or ``contacts``.

    A feed lead of the unit is a contact and has a fuse: two rows. ``starting`` and ``parked`` are
    those two parts of the report, unless a run, fuse or contact is called so.

    Raises
    ------
    RecordError
        Where there is none, with the nearest that there is.

    Source: none, a look-up.
    """
    lists = {"runs": report.runs, "fuses": report.fuses, "contacts": report.contacts}
    found = [(kind, row) for kind, some in lists.items() for row in some if row["id"] == id]
    if found:
        return found
    if id in PARTS:
        return [(id, getattr(report, id))]
    ids = [str(row["id"]) for some in lists.values() for row in some]
    ids = list(dict.fromkeys([*ids, *PARTS]))
    near = difflib.get_close_matches(id, ids, n=1)
    hint = f"{near[0]}, or another of: " if near else "one of: "
    raise RecordError(f"no row {id[:60]!r}", "--why", hint + ", ".join(ids[:60]))


def why(
    job: WholeJob,
    wiring: Wiring,
    report: SizeReport,
    id: str,
    *,
    lines: Lines | None = None,
    ambient_C: float = 30.0,
) -> SizeWhy:
    """Unfold one row of a size report: a run, a fuse, a lead or contact, the start, the parked car.

    Parameters
    ----------
    job, wiring
        What was sized.
    report : SizeReport
        What `size` said of them.
    id : str
        The row's `id`; ``starting`` or ``parked`` for those parts.
    lines : Lines, optional
        The files the records were read from; without them each input has its path alone.
    ambient_C : float
        As it was asked with.

    Raises
    ------
    RecordError
        Where the report has no such row.

    Source: each number names its own.
    """
    lines = lines or Lines()
    found = rows_named(report, id)
    numbers: list[Number] = []
    inputs: list[Point] = []
    for kind, row in found:
        if kind == "runs":
            numbers += _run_numbers(job, row, ambient_C)
            inputs += run_inputs(job, wiring, row, lines)
        elif kind == "fuses":
            numbers += _fuse_numbers(row, report)
            inputs += fuse_inputs(job, wiring, row, lines)
        elif kind == "starting":
            numbers += starting_numbers(job, row)
            inputs += starting_inputs(job, wiring, row, lines)
        elif kind == "parked":
            numbers += parked_numbers(job, wiring, row, float(report.starting["charge"]))
            inputs += parked_inputs(job, wiring, lines)
        else:
            numbers += _contact_numbers(row)
            inputs += contact_inputs(job, wiring, id, lines)
    says = "; ".join(str(row["says"]) for _, row in found)
    holds = all(bool(row["holds"]) for _, row in found)
    return SizeWhy(id, says, holds, tuple(numbers), tuple(dict.fromkeys(inputs)))


# -- a run -----------------------------------------------------------------------------------------


def _run_numbers(job: WholeJob, row: dict[str, Any], ambient_C: float) -> Iterator[Number]:
    size, length, rating = row["size_mm2"], row["length_m"], row["insulation_C"]
    yield Number(
        "current",
        f"{row['amps_A']:.3g} A",
        f"the largest over all states, at {AT_V} V; met in: {row['state']}",
        "nodal analysis of the wired car, docs/network.md",
    )
    hot = row["temperature_C"]
    warm = min(hot if hot is not None else rating, rating)
    ohm = ohm_per_m(size, warm) * length
    yield Number(
        "resistance",
        f"{1000 * ohm:.3g} mΩ",
        f"R = r20 · length · (234.5 + t) / 254.5 = {1000 * ohm_per_m(size):.4g} Ω/km · "
        f"{length:g} m · {copper_factor(warm):.3f} (t = {warm:g} °C)",
        f"{citation('iec-60228-t3')} or {citation('iso-6722-1')}, whichever is larger; "
        "FAA AC 43.13-1B par. 11-66",
        tuple(_resistance_rows(size)),
    )
    yield Number(
        "drop along it",
        f"{row['drop_V']:.3g} V",
        f"U = I · R = {row['amps_A']:.4g} A · {1000 * ohm:.3g} mΩ; "
        f"{100 * row['drop_share']:.2g} % of {AT_V} V",
        "Ohm's law",
    )
    if row["feeds"] is not None:
        critical = job.vehicle.circuit(row["feeds"]).function in CRITICAL
        share = CRITICAL_SHARE if critical else LESS_CRITICAL_SHARE
        yield Number(
            "drop on the whole way",
            f"{row['load_drop_V']:.3g} V",
            f"from the battery to {row['feeds']}, contacts and fuses included; "
            f"{100 * row['load_drop_share']:.2g} % of {AT_V} V, {100 * share:g} % is the most",
            "ABYC E-11 (3 % for ignition and starter, 10 % for the rest)",
        )
    yield _ampacity(row, ambient_C)
    yield Number(
        "loading",
        f"{100 * row['loading']:.0f} %",
        "the largest over all states of current / ampacity in the bundle of that state",
        f"{citation('cfr33-183.425-t5')} with notes 1 and 2",
    )
    yield Number(
        "temperature",
        "it would burn" if hot is None else f"{hot:g} °C",
        f"I² · R(t) = heat given off by convection and radiation, air at {ambient_C:g} °C, "
        f"{row['bundled']} loaded wires together; the insulation stands {rating:g} °C",
        "Churchill and Chu (1975), Stefan-Boltzmann; docs/size.md",
    )


def _resistance_rows(size_mm2: float) -> Iterator[str]:
    """The rows of each standard between which a size lies."""
    for standard, source in (
        ("iec60228", "iec-60228-t3"),
        ("iso6722", "iso-6722-1"),
        ("vde0295", "vde-0295"),
    ):
        table = max_ohm_per_km(standard)
        near = around([s for s, _ in table], size_mm2)
        for r in rows("conductor_resistance"):
            if r["standard"] == standard and float(r["size_mm2"]) in near:
                yield (
                    f"{citation(source)}: {float(r['size_mm2']):g} mm², "
                    f"{r['plain_ohm_km']} Ω/km ({READ[r['how']]})"
                )


def _ampacity(row: dict[str, Any], ambient_C: float) -> Number:
    size, insulation, bundled = row["size_mm2"], row["insulation_C"], int(row["bundled"])
    rating = min(float(insulation), float(COLUMNS_C[-1]))
    columns = [int(c) for c in around([float(c) for c in COLUMNS_C], rating)]
    areas = {awg_to_mm2(n): n for n in ampacity_sizes()}
    near = around(sorted(areas), size) or [min(areas)]
    table = []
    for area in near:
        how = next(r["how"] for r in rows("ampacity") if r["awg"] == _awg_text(areas[area]))
        amps = ", ".join(
            f"{table_ampacity_A(areas[area], c):g} A at {c} °C insulation" for c in columns
        )
        name = awg_name(areas[area])
        table.append(
            f"{citation('cfr33-183.425-t5')}: {name} AWG ({area:.3g} mm²), {amps} ({READ[how]})"
        )
    warm, together = min(1.0, ambient_factor(rating, ambient_C)), bundle_factor(bundled)
    base = row["ampacity_A"] / (warm * together)
    chord = "" if len(near) == 1 and len(columns) == 1 else ", by the chord between the rows"
    if size < min(areas):
        chord = f", in proportion to the area below {awg_name(areas[min(areas)])} AWG"
    table.append(
        f"{citation('abyc-e11-bundle')}: {_bundle_row(bundled)}; binding from 50 V only, "
        "good practice below"
    )
    return Number(
        "ampacity",
        f"{row['ampacity_A']:.3g} A",
        f"I = table · ambient · bundle = {base:.3g} A ({size:g} mm², {rating:g} °C{chord}) · "
        f"{warm:.3g} ({ambient_C:g} °C around it) · {together:g} ({bundled} loaded together)",
        f"{citation('cfr33-183.425-t5')} with notes 1 and 2; ambient: √((Tc − Ta) / (Tc − 30)), "
        "NFPA 70 (NEC) Table 310.15(B)(2)(a)",
        tuple(table),
    )


def _awg_text(number: int) -> str:
    return awg_name(number) if number > 0 else "0" * (1 - number)


def _bundle_row(bundled: int) -> str:
    steps = [
        (int(r["at_least"]), float(r["factor"]))
        for r in rows("bundle_factor")
        if r["table"] == "cautious"
    ]
    at = max(k for k, (least, _) in enumerate(steps) if least <= bundled)
    least, factor = steps[at]
    if at + 1 == len(steps):
        return f"{least} wires and more, {factor:g}"
    last = steps[at + 1][0] - 1
    return f"{least} wires, {factor:g}" if least == last else f"{least} to {last} wires, {factor:g}"


# -- a fuse ----------------------------------------------------------------------------------------


def _fuse_numbers(row: dict[str, Any], report: SizeReport) -> Iterator[Number]:
    rating = row["rating_A"]
    yield Number(
        "lasting load",
        f"{row['load_A']:.3g} A",
        f"the largest over the states that last, at {AT_V} V; met in: {row['state']}",
        "nodal analysis of the wired car, docs/network.md",
    )
    yield Number(
        "share",
        f"{100 * row['share']:.0f} %",
        f"{row['load_A']:.4g} A / {rating:g} A; {100 * row['limit_share']:.0f} % is the most",
        "fuse makers' practice for blade fuses (75 %); the car's own fuse: 100 %",
    )
    if row["wire"] is None:
        return
    wire = f"run {row['wire']}, {row['wire_mm2']:g} mm²"
    if row["wire_ampacity_A"] is not None:
        yield Number(
            "overload",
            f"{rating:g} A before {row['wire_ampacity_A']:.3g} A",
            f"the rating is at most the ampacity of {wire}; up to 150 % of it for a fixed load",
            "46 CFR 111.50-3(c)(1); IEC 60364-4-43 clause 433.3.1",
        )
    if row["short_A"] is None:
        return
    clears = "no time is promised" if row["clears_s"] is None else f"{row['clears_s']:.3g} s"
    yield Number(
        "clears a short in",
        clears,
        f"the latest opening of a {rating:g} A fuse at {row['short_A']:g} A, "
        f"{100 * row['short_A'] / rating:.0f} % of its rating; beyond the last gate by its I²t",
        citation("iso-8820-3-maxi" if kind_of(rating) == "maxi" else "iso-8820-3-gates"),
        tuple(_gate_rows(rating, row["short_A"])),
    )
    run = next((r for r in report.runs if r["id"] == row["wire"]), None)
    insulation = run["insulation_C"] if run is not None else 105.0
    end = final_C(insulation)
    begin = sqrt(row["survives_s"]) * row["short_A"] / row["wire_mm2"]
    yield Number(
        "the wire stands it for",
        f"{row['survives_s']:.3g} s",
        f"t = (k · A / I)² with k = {begin:.4g} A√s/mm² (from {FROM_C:g} °C or warmer to "
        f"{end:g} °C; {adiabatic_k(FROM_C, end):.4g} from {FROM_C:g} °C), {wire}, "
        f"I = {row['short_A']:g} A",
        "IEC 60364-5-54 clause 543.1.2",
    )


def _gate_rows(rating_A: float, amps_A: float) -> Iterator[str]:
    share, kind = 100 * amps_A / rating_A, kind_of(rating_A)
    gates = sorted(
        {float(r["percent"]) for r in rows("fuse_gates") if r["kind"] == kind},
    )
    if share <= gates[0]:
        near = gates[:1]
    elif share >= gates[-1]:
        near = gates[-1:]
    else:
        above = next(g for g in gates if g >= share)
        near = [above] if above == share else [gates[gates.index(above) - 1], above]
    for r in rows("fuse_gates"):
        if r["kind"] == kind and float(r["percent"]) in near:
            least, most = r["min_s"] or "0", r["max_s"] or "no end"
            yield f"{r['percent']} % of its rating: {least} to {most} s ({READ[r['how']]})"


# -- a lead or contact -----------------------------------------------------------------------------


def _contact_numbers(row: dict[str, Any]) -> Iterator[Number]:
    yield Number(
        "current",
        f"{row['amps_A']:.3g} A",
        f"the largest over all states, at {AT_V} V; met in: {row['state']}",
        "nodal analysis of the wired car, docs/network.md",
    )
    if row.get("limit_A") is not None:
        yield Number(
            "share",
            f"{100 * (row['share'] or 0):.0f} %",
            f"{row['amps_A']:.4g} A / {row['limit_A']:g} A",
            str(row.get("source", "")),
        )
    if row.get("pull_in_V") is not None:
        yield Number(
            "coil",
            f"{row['volts_V']:.3g} V",
            f"at 11.8 V of battery; hot it wants {row['pull_in_V']:g} V",
            str(row.get("source", "")),
        )
