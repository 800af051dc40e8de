"""Long work: started once, watched, stopped, kept by what it was made of."""

import threading

import pytest

from startwright.records import RecordError
from startwright.web.desk import Desk, content_key


@pytest.fixture
def desk():
    desk = Desk(workers=1, keep=3)
    yield desk
    desk.close()


def test_the_same_work_is_done_once(desk):
    ran = []
    first = desk.start("k", lambda task: ran.append(1) or 41)
    assert first.wait(5)
    second = desk.start("k", lambda task: ran.append(2) or 42)
    assert second is first
    assert (first.state, first.result, ran) == ("done", 41, [1])


def test_it_can_be_stopped_and_begun_again(desk):
    going, go = threading.Event(), threading.Event()

    def work(task):
        going.set()
        go.wait(5)
        task.say("never said")
        return "never"

    task = desk.start("k", work)
    assert going.wait(5)
    assert task.busy
    desk.stop("k")
    go.set()
    assert task.wait(5)
    assert (task.state, task.result, task.step) == ("stopped", None, "begun")
    assert desk.start("k", lambda t: 1) is task
    again = desk.start("k", lambda t: 7, again=True)
    assert again.wait(5)
    assert again.result == 7


def test_what_waits_can_be_stopped(desk):
    go = threading.Event()
    desk.start("first", lambda task: go.wait(5))
    second = desk.start("second", lambda task: 1)
    desk.stop("second")
    go.set()
    assert second.wait(5)
    assert second.state == "stopped"


def test_an_answer_that_cannot_be_given_is_an_error(desk):
    def refuse(task):
        raise RecordError("a", "b", "c")

    def broken(task):
        raise ZeroDivisionError("by hand")

    for key, work, what in (("r", refuse, "a"), ("b", broken, "ZeroDivisionError: by hand")):
        task = desk.start(key, work)
        assert task.wait(5)
        assert task.state == "failed"
        assert what in task.error.what


def test_it_keeps_the_last_few(desk):
    for n in range(6):
        assert desk.start(str(n), lambda task: 1).wait(5)
    assert desk.get("0") is None
    assert desk.get("5") is not None


def test_a_key_tells_what_differs():
    keys = {content_key(*a) for a in (("k", "ab", "c"), ("k", "a", "bc"), ("l", "ab", "c"))}
    assert len(keys) == 3
    assert content_key("k", "a") == content_key("k", "a")
