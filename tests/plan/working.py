"""Plans that have been through the loop, and how their runs are looked at."""

from __future__ import annotations

from startwright.job import work
from startwright.plan import NoPlan, Planned, plan
from startwright.records import WholeJob


def safe(j: WholeJob) -> Planned:
    """The plan of a job that holds, all of its tries proven: at most a wire was made thicker."""
    out = work(j)
    assert out.safe, (out.refusal, [t.wanting for t in out.tries])
    assert all(t.proof.verdict == "proven" for t in out.tries), [t.wanting for t in out.tries]
    assert out.plan is not None
    return out.plan


def reasons(j: WholeJob) -> str:
    """Why there is no plan, in one line."""
    answer = plan(j)
    assert isinstance(answer, NoPlan)
    assert answer.resolve
    return " | ".join([*answer.reasons, *(r.do for r in answer.resolve)])


def joined(p: Planned, a: str, b: str) -> bool:
    """Whether a run goes from one end to the other."""
    return any({a, b} == set(r.ends) for r in p.wiring.runs)


def kinds(p: Planned) -> list[str]:
    """The articles of a plan, in order of the alphabet."""
    return sorted(f.of for f in p.wiring.parts)


def part(p: Planned, end: str, pin: str) -> str:
    """The part whose pin a run joins to this end."""
    for r in p.wiring.runs:
        if end in r.ends:
            other = next(e for e in r.ends if e != end)
            if other.endswith(f".{pin}"):
                return other.removesuffix(f".{pin}")
    raise AssertionError(f"no part has its {pin} on {end}")
