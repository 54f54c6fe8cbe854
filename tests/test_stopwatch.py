"""A stopwatch that lets a busy machine pass, and nothing that the program itself takes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from tests.stopwatch import stopwatch

LASTS_S = 0.2


def _waits() -> None:
    time.sleep(LASTS_S)


def _works() -> None:
    end_s = time.process_time() + LASTS_S
    while time.process_time() < end_s:
        pass


def _works_and_lets_no_other_thread_run() -> None:
    usual = sys.getswitchinterval()
    sys.setswitchinterval(10.0)
    try:
        _works()
    finally:
        sys.setswitchinterval(usual)


@pytest.mark.parametrize(
    "what", [_waits, _works, _works_and_lets_no_other_thread_run], ids=lambda what: what.__name__
)
def test_what_the_program_takes_counts(what: object) -> None:
    assert callable(what)
    for _ in range(3):  # a halt of all of it may hide what it takes, but not again and again
        with stopwatch() as watch:
            what()
        if watch.own_s > LASTS_S * 0.9:
            break
    assert watch.own_s > LASTS_S * 0.9


def test_a_process_that_is_held_up_with_all_its_threads_is_excused() -> None:
    """It is halted from outside for much longer than its block lasts."""
    code = (
        "import time\nfrom tests.stopwatch import stopwatch\n"
        "with stopwatch() as watch:\n    print('begun', flush=True)\n    time.sleep(0.3)\n"
        "print(watch.own_s)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "begun\n"
        os.kill(process.pid, signal.SIGSTOP)
        time.sleep(1.0)
        os.kill(process.pid, signal.SIGCONT)
        own_s = float(process.stdout.readline())
    assert own_s < 0.6
