"""What to try when all is joined: scenario lines that the finished wiring must answer to."""

from __future__ import annotations

from startwright.records import WholeJob, Wiring

CRANKS = {"starter", "starter_signal", "start_button"}
"""Functions of a unit that make the engine turn."""


def _imitates(job: WholeJob, wiring: Wiring) -> bool:
    """Whether the wiring presses a start button: a start is then ended by a press as well."""
    buttons = {f"vehicle.{c.id}" for c in job.vehicle.of("start_button")}
    by_button = job.vehicle.start == "push_button"
    return by_button and any(end in buttons for run in wiring.runs for end in run.ends)


def _reaches(job: WholeJob, wiring: Wiring, sense: str) -> bool:
    """Whether the unit has a lead for that sense and something is joined to it."""
    leads = {f"unit.{lead.id}" for lead in job.unit.leads if lead.senses == sense}
    return any(end in leads for run in wiring.runs for end in run.ends)


def _until_cranking_s(job: WholeJob) -> float:
    """Seconds from the command until the starter turns, and a little of its turning."""
    wait = 0.0
    for step in job.unit.sequence:
        if CRANKS & set(step.drives):
            return wait + min(1.0, (step.at_most_s or step.for_s or 2.0) / 2)
        wait += step.for_s or step.at_most_s or 0.0
    return wait + 1.0


def try_lines(job: WholeJob, wiring: Wiring) -> list[tuple[str, str]]:
    """Scenario lines for the job's wants, each with what it is for, in the order to try them.

    The lines that start nothing come first, then those that must refuse, then the engine.

    Returns
    -------
    list of (str, str)
        The line (`startwright.records.scenario`), and why it is tried.
    """
    wants = set(job.wants)
    out: list[tuple[str, str]] = []
    if "lock_unlock" in wants:
        out.append(("command lock → lock on", "the doors lock"))
        out.append(
            ("command unlock → driver_unlock on", "the driver's door unlocks")
            if job.vehicle.of("driver_unlock") and "driver_first_unlock" in wants
            else ("command unlock → unlock on", "the doors unlock")
        )
    if "trunk_release" in wants:
        out.append(("command trunk → trunk_release on", "the trunk opens"))
    if "panic" in wants:
        out.append(("command panic → horn on", "the horn sounds; press again or wait to end it"))
    if "remote_start" not in wants:
        return out
    if _reaches(job, wiring, "hood"):
        out.append(("hood open · command start → ignition off, starter off",
                    "nothing starts with the hood open"))  # fmt: skip
    if _reaches(job, wiring, "brake"):
        out.append(("brake press · command start → ignition off, starter off",
                    "nothing starts with a foot on the brake"))  # fmt: skip
    if _reaches(job, wiring, "park_neutral"):
        out.append(("shift drive · command start → ignition off, starter off",
                    "nothing starts in gear"))  # fmt: skip
    if _reaches(job, wiring, "service"):
        waited = f"wait {_until_cranking_s(job):g} s"
        out.append((f"service on · command start · {waited} → ignition off, starter off",
                    "nothing starts while the service switch is on"))  # fmt: skip
    imitates = _imitates(job, wiring)
    pressed = " · wait 1 s" if imitates else ""
    started = f"command start · wait {_until_cranking_s(job):g} s · engine starts"
    out.append((f"{started} → engine runs, starter off",
                "the engine starts by command and the starter lets go"))  # fmt: skip
    out.append((f"{started} · command stop{pressed} → ignition off", "a command stops it"))
    if _reaches(job, wiring, "hood"):
        out.append((f"{started} · hood open{pressed} → ignition off, starter off",
                    "an open hood ends it at once"))  # fmt: skip
    if _reaches(job, wiring, "brake"):
        out.append((f"{started} · brake press{pressed} → ignition off, starter off",
                    "a foot on the brake without the key ends it at once"))  # fmt: skip
    if imitates:
        out.append((f"{started} · start_button press · wait 1 s → ignition off, starter off",
                    "the driver's own press turns it off"))  # fmt: skip
    else:
        out.append((f"{started} · key insert · key run · brake press → engine runs, starter off",
                    "with the key in run the driver takes over without a gap"))  # fmt: skip
    foot = "brake press · " if job.vehicle.start == "push_button" else "key run · "
    out.append((f"key insert · {foot}key start · engine starts · key run · command start "
                "→ engine runs, starter off",
                "a command into a running engine does not crank it"))  # fmt: skip
    return out
