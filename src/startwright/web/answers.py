"""The questions asked of one job, worked out beside the page and kept by content."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from startwright.records import ProofReport, SizeReport, WholeJob, Wiring
from startwright.web.desk import Desk, Task, content_key


class Answers:
    """Plans, sizes and proofs, worked out once each."""

    def __init__(self) -> None:
        self.desk = Desk()
        self.recordings = Desk(workers=1, keep=4)

    def close(self) -> None:
        """Stop everything."""
        self.desk.close()
        self.recordings.close()

    def work(self, job: WholeJob, *, again: bool = False) -> Task:
        """Plan, size and prove a job; the task's result has those keys, and ``refusal``."""

        def doing(task: Task) -> dict[str, Any]:
            from startwright.job.loop import work
            from startwright.prove import prove
            from startwright.size import size

            def sizer(job: WholeJob, wiring: Wiring) -> SizeReport:
                task.say("sizing")
                return size(job, wiring)

            def prover(job: WholeJob, wiring: Wiring) -> ProofReport:
                task.say("proving")
                return prove(job, wiring, progress=_counted(task, "proving"))

            task.say("planning")
            outcome = work(job, sizer=sizer, prover=prover)
            return {
                "plan": outcome.plan.bare() if outcome.plan is not None else None,
                "size": outcome.size,
                "proof": outcome.proof,
                "refusal": outcome.refusal,
            }

        return self.desk.start(self.key(job), doing, again=again)

    def known(self, job: WholeJob) -> Task | None:
        """The work on a job as far as it is, without starting it."""
        return self.desk.get(self.key(job))

    def key(self, job: WholeJob) -> str:
        """The key of a job's answers."""
        return content_key("work", job)

    def stop(self, job: WholeJob) -> None:
        """Stop working on a job."""
        self.desk.stop(self.key(job))

    def faults(self, job: WholeJob, wiring: Wiring, *, again: bool = False) -> Task:
        """Prove a wiring with every single fault and unnoticed pairs; the result is the report."""

        def doing(task: Task) -> ProofReport:
            from startwright.prove import prove

            task.say("trying every single fault")
            return prove(
                job,
                wiring,
                faults=True,
                pairs=True,
                progress=_counted(task, "trying every single fault"),
            )

        return self.desk.start(self.faults_key(job, wiring), doing, again=again)

    def known_faults(self, job: WholeJob, wiring: Wiring) -> Task | None:
        """The work on the faults of a wiring as far as it is, without starting it."""
        return self.desk.get(self.faults_key(job, wiring))

    def faults_key(self, job: WholeJob, wiring: Wiring) -> str:
        """The key of the faults of a wiring."""
        return content_key("faults", job, wiring)

    def stop_faults(self, job: WholeJob, wiring: Wiring) -> None:
        """Stop trying faults."""
        self.desk.stop(self.faults_key(job, wiring))


def _counted(task: Task, step: str) -> Callable[[int], bool]:
    """Tells how many states were visited; stops the search where the task was told to stop."""

    def progress(states: int) -> bool:
        task.step = f"{step}, {states:,} states so far"
        return not task.stopping()

    return progress
