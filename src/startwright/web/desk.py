"""Long work beside the page: started once, watched, stopped, and kept by what it was made of."""

from __future__ import annotations

import hashlib
import logging
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from importlib.metadata import version
from typing import Any, Literal

from startwright.records import RecordError
from startwright.records.base import Record

log = logging.getLogger(__name__)

State = Literal["waiting", "working", "done", "stopped", "failed"]


class Stopped(Exception):
    """The person stopped it."""


@dataclass
class Task:
    """One piece of long work; `result` is set when `state` is ``done``."""

    key: str
    state: State = "waiting"
    step: str = "waiting for its turn"
    result: Any = None
    error: RecordError | None = None
    began: float = field(default_factory=time.monotonic)
    took_s: float = 0.0
    partial: dict[str, Any] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _stop: threading.Event = field(default_factory=threading.Event)
    _ended: threading.Event = field(default_factory=threading.Event)

    def say(self, step: str) -> None:
        """What is being done now.

        Raises
        ------
        Stopped
            The work was told to stop.
        """
        if self._stop.is_set():
            raise Stopped
        self.step = step

    def stopping(self) -> bool:
        """Whether it was told to stop."""
        return self._stop.is_set()

    @property
    def busy(self) -> bool:
        """Whether it still goes on."""
        return self.state in ("waiting", "working")

    @property
    def seconds(self) -> float:
        """How long it took, or has taken so far."""
        return self.took_s if not self.busy else time.monotonic() - self.began

    def now(self) -> Task:
        """The task as it is at this moment: a page reads it many times and must not see it move."""
        with self._lock:
            seen = replace(self)
        return seen

    def wait(self, timeout_s: float) -> bool:
        """Wait until it ended, at most so long; whether it did."""
        return self._ended.wait(timeout_s)


class Desk:
    """Runs tasks on a few threads and keeps the last `keep` of them by key."""

    def __init__(self, workers: int = 2, keep: int = 128) -> None:
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="desk")
        self._tasks: OrderedDict[str, Task] = OrderedDict()
        self._keep = keep
        self._lock = threading.Lock()

    def get(self, key: str) -> Task | None:
        """The task of that key, where there is one."""
        with self._lock:
            return self._tasks.get(key)

    def start(self, key: str, work: Callable[[Task], Any], *, again: bool = False) -> Task:
        """The task of that key: the one there is, else one started now.

        With `again`, one that was stopped or failed is started anew.
        """
        with self._lock:
            task = self._tasks.get(key)
            if task is not None and not (again and task.state in ("stopped", "failed")):
                self._tasks.move_to_end(key)
                return task
            task = Task(key)
            self._tasks[key] = task
            self._forget()
        self._pool.submit(self._run, task, work)
        return task

    def _forget(self) -> None:
        idle = [k for k, t in self._tasks.items() if not t.busy]
        for key in idle[: max(0, len(self._tasks) - self._keep)]:
            del self._tasks[key]

    def _run(self, task: Task, work: Callable[[Task], Any]) -> None:
        task.began = time.monotonic()
        try:
            task.say("begun")
            task.state = "working"
            result = work(task)
            with task._lock:
                task.result = result
            ended: State = "stopped" if task.stopping() else "done"
        except Stopped:
            ended = "stopped"
        except RecordError as error:
            task.error = error
            ended = "failed"
        except Exception as error:
            log.exception("work failed")
            task.error = RecordError(
                f"the work broke off: {type(error).__name__}: {error}",
                "startwright",
                "an answer; please report this with the job file",
            )
            ended = "failed"
        with task._lock:
            task.took_s = time.monotonic() - task.began
            task.state = ended
        task._ended.set()

    def stop(self, key: str) -> None:
        """Tell the task of that key to stop; nothing where there is none."""
        task = self.get(key)
        if task is not None:
            task._stop.set()

    def close(self) -> None:
        """Tell everything to stop and take no more."""
        with self._lock:
            for task in self._tasks.values():
                task._stop.set()
        self._pool.shutdown(wait=False, cancel_futures=True)


def content_key(kind: str, *records: Record | str) -> str:
    """The key of an answer: the hash of what it is made of, and of the version that makes it."""
    digest = hashlib.sha256(f"{kind}/{version('startwright')}".encode())
    for record in records:
        text = record if isinstance(record, str) else record.model_dump_json(by_alias=True)
        digest.update(b"\0" + text.encode())
    return digest.hexdigest()
