"""Signals that are held off come after the body, each to its own handler; real signals."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator

import pytest

from daq.undisturbed import undisturbed

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="SIGTERM there ends the process")


@pytest.fixture(autouse=True)
def _usual() -> Iterator[None]:
    before = {each: signal.getsignal(each) for each in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)}
    yield
    for each, handler in before.items():
        signal.signal(each, handler)


def test_an_interruption_comes_when_the_body_has_ended() -> None:
    signal.signal(signal.SIGINT, signal.default_int_handler)
    done = []

    def work() -> None:
        with undisturbed():
            signal.raise_signal(signal.SIGINT)
            done.append("all of it")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done == ["all of it"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_each_goes_to_its_own_handler_once_also_where_the_body_fails() -> None:
    heard: list[str] = []
    signal.signal(signal.SIGTERM, lambda *_: heard.append("end"))
    signal.signal(signal.SIGHUP, lambda *_: heard.append("hangup"))

    def work() -> None:
        with undisturbed():
            for each in (signal.SIGTERM, signal.SIGHUP, signal.SIGTERM):
                signal.raise_signal(each)
            assert heard == []
            raise ValueError("full")

    with pytest.raises(ValueError, match="full"):
        work()
    assert heard == ["end", "hangup"]


def test_all_handlers_are_back_where_one_interrupts_the_giving_back() -> None:
    """SIGINT, which comes back last, is still there after SIGTERM's handler has raised."""

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, interrupt)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    real = signal.signal
    sent: list[int] = []

    def giving_back(number: int, handler: object) -> object:
        given = real(number, handler)  # type: ignore[arg-type]  # as it was taken
        if number == signal.SIGTERM and handler is interrupt and not sent:
            sent.append(number)
            signal.raise_signal(signal.SIGTERM)
        return given

    with pytest.MonkeyPatch.context() as patch, pytest.raises(KeyboardInterrupt), undisturbed():
        patch.setattr(signal, "signal", giving_back)
    assert signal.getsignal(signal.SIGTERM) is interrupt
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_another_thread_is_let_work() -> None:
    done: list[str] = []

    def work() -> None:
        with undisturbed():
            done.append("all of it")

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert done == ["all of it"]
