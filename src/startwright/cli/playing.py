"""A scenario line played on a wiring, as data: the keys are those of the app's API."""

from __future__ import annotations

from typing import Any

from startwright.records import WholeJob, Wiring


def played(job: WholeJob, wiring: Wiring, line: str) -> dict[str, Any]:
    """Play a line from the car parked.

    Returns
    -------
    dict
        ``line``, ``holds``, ``expects`` (``expect``, ``met``), ``moments`` (``at_s``, ``what``,
        ``stands``, ``on``, ``runs``), ``flaws``.

    Raises
    ------
    RecordError
        For a line that cannot be read or played.
    """
    from startwright.prove import play
    from startwright.prove.tell import describe
    from startwright.records.scenario import parse_scenario

    scenario = parse_scenario(line, "--play")
    clock, met = play(job, wiring, scenario)
    moments = []
    for moment in clock.log:
        leads = [n.removeprefix("out.") for n, on in moment.row.items() if n[:4] == "out." and on]
        ends = {f"unit.{lead}" for lead in leads}
        moments.append(
            {
                "at_s": round(moment.at_s, 3),
                "what": in_words(moment.what),
                "stands": describe(clock.model, moment.row),
                "on": leads,
                "runs": [r.id for r in wiring.runs if ends & set(r.ends)],
            }
        )
    expects = [
        {"expect": str(e), "met": bool(m)} for e, m in zip(scenario.expects, met, strict=True)
    ]
    flaws = list(clock.flaws)
    return {
        "line": str(scenario),
        "holds": not flaws and all(met),
        "expects": expects,
        "moments": moments,
        "flaws": flaws,
    }


def in_words(what: str) -> str:
    """What happened, as a line says it: ``hood 1`` is the hood opened."""
    from startwright.car.surroundings import values
    from startwright.records.words import KEY_POSITIONS

    name, _, number = what.rpartition(" ")
    if not name or not number.isdigit():
        return {"timer": "time runs out", "parked": "parked, key out"}.get(what, what)
    if name == "key":
        return f"key {KEY_POSITIONS[int(number)]}"
    return f"{name} {values(name)[int(number)]}"
