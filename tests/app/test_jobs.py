"""Jobs: the newest wins, progress is passed on, cancel is heard, errors arrive, no thread is left."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
from pytestqt.qtbot import QtBot

from analysis.errors import CancelledError
from app.session.jobs import Cancelled, JobRunner, JobStatus, Progress


@pytest.fixture
def runner(qtbot: QtBot) -> Iterator[JobRunner]:
    runner = JobRunner()
    yield runner
    assert runner.close()


def test_an_answer_arrives_in_the_windows_thread(runner: JobRunner, qtbot: QtBot) -> None:
    seen: list[Any] = []
    runner.answered.connect(lambda *a: seen.append((*a, threading.current_thread())))
    number = runner.submit("double", 21, lambda n, _p, _c: 2 * n)
    qtbot.waitUntil(lambda: bool(seen), timeout=60_000)
    assert seen == [("double", number, 42, threading.main_thread())]
    assert runner.running == ()


def test_the_newest_wins(runner: JobRunner, qtbot: QtBot) -> None:
    first_goes_on = threading.Event()

    def slow(n: int, _progress: Progress, _cancelled: Cancelled) -> int:
        first_goes_on.wait(60)
        return n

    answers: list[int] = []
    runner.answered.connect(lambda _k, _n, answer: answers.append(answer))
    runner.submit("work", 1, slow)
    runner.submit("work", 2, lambda n, _p, _c: n)
    qtbot.waitUntil(lambda: answers == [2], timeout=60_000)
    first_goes_on.set()
    qtbot.wait(100)
    assert answers == [2]


def test_a_cancelled_job_is_never_heard(runner: JobRunner, qtbot: QtBot) -> None:
    heard: list[object] = []
    stopped = threading.Event()

    def waits(_request: object, progress: Progress, cancelled: Cancelled) -> None:
        while not cancelled():
            progress(1, 2, "x")
            time.sleep(0.005)
        stopped.set()
        raise CancelledError("stopped")

    runner.failed.connect(lambda *a: heard.append(a))
    runner.submit("work", None, waits)
    qtbot.wait(50)
    runner.cancel("work")
    assert stopped.wait(60)
    qtbot.wait(50)
    assert heard == []
    assert runner.running == ()


def test_a_stop_that_is_asked_for_keeps_what_is_done(runner: JobRunner, qtbot: QtBot) -> None:
    begun = threading.Event()

    def counts(_request: object, _progress: Progress, cancelled: Cancelled) -> int:
        n = 0
        while not cancelled():
            n += 1
            begun.set()
            time.sleep(0.002)
        return n

    answers: list[int] = []
    runner.answered.connect(lambda _k, _n, answer: answers.append(answer))
    runner.submit("work", None, counts)
    assert begun.wait(60)
    runner.request_stop("work")
    qtbot.waitUntil(lambda: bool(answers), timeout=60_000)
    assert answers[0] >= 1


def test_progress_and_errors_arrive(runner: JobRunner, qtbot: QtBot) -> None:
    states: list[JobStatus] = []
    errors: list[Exception] = []
    runner.progressed.connect(states.append)
    runner.failed.connect(lambda _k, _n, error: errors.append(error))

    def fails(_request: object, progress: Progress, _cancelled: Cancelled) -> None:
        progress(3, 10, "third")
        time.sleep(0.1)
        raise ValueError("broken")

    runner.submit("work", None, fails)
    qtbot.waitUntil(lambda: bool(errors), timeout=60_000)
    assert str(errors[0]) == "broken"
    assert [(s.done, s.total, s.text) for s in states] == [(3, 10, "third")]
