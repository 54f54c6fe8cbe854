"""The bench in real time: physics, instruments and ports together until told to end."""

from __future__ import annotations

import time
from collections.abc import Callable
from queue import Empty, SimpleQueue

from .machine import STEP_S
from .model import Bench
from .ports import Port
from .scpi_dialog import ScpiDialog

__all__ = ["LiveBench"]

_STEPS_A_TURN = 2
"""Waking up for each step would cost more than the step. Everything falls due on even steps."""

_MOST_BEHIND_S = 1.0
"""After a longer halt (a computer asleep) the bench goes on from there instead of catching up."""


class LiveBench:
    """Runs a bench on its ports, in one thread.

    Args:
        bench: the model.
        meter_port: where the meter is.
        tach_port: where the tach is.
        seed: the meter's serial number, as it tells it.
    """

    def __init__(self, bench: Bench, meter_port: Port, tach_port: Port, seed: int) -> None:
        self.bench, self.meter_port, self.tach_port = bench, meter_port, tach_port
        self._dialog = ScpiDialog(bench.meter, seed)
        self.ending = False
        """Set from a signal handler or a thread; a plain flag, since a lock taken in a handler can hang."""
        self.unplug: list[tuple[float, Port]] = []
        """Ports that go away, and when."""

    def run(
        self,
        lines: SimpleQueue[str],
        on_line: Callable[[str], None],
        *,
        duration_s: float | None = None,
    ) -> None:
        """Step and serve until ``ending`` is set or ``duration_s`` have passed.

        The next moment to wake up is reckoned from the start, so that what the work
        takes does not add up to a drift.
        """
        start_s = time.monotonic()
        steps = 0
        while not self.ending and (duration_s is None or self.bench.t_s < duration_s):
            behind_s = time.monotonic() - start_s - steps * STEP_S
            if behind_s > _MOST_BEHIND_S:
                start_s += behind_s
                behind_s = 0.0
            if behind_s < 0.0:
                time.sleep(-behind_s)
                continue
            steps += _STEPS_A_TURN
            self._serve()
            self._take_lines(lines, on_line)

    def port(self, name: str) -> Port:
        """The port of ``meter`` or ``tach``."""
        return {"meter": self.meter_port, "tach": self.tach_port}[name]

    def close(self) -> None:
        """Let go of both ports."""
        self.meter_port.close()
        self.tach_port.close()

    def _serve(self) -> None:
        self._dialog.receive(self.meter_port.read())
        self.tach_port.read()  # a tach listens to nobody
        self.bench.step(_STEPS_A_TURN * STEP_S)
        answer = self._dialog.poll(self.bench.t_s)
        if answer:
            self.meter_port.write(answer)
        for line in self.bench.tach.take(self.bench.t_s):
            self.tach_port.write(line.wire)
        for when_s, port in self.unplug:
            if self.bench.t_s >= when_s:
                port.close()

    @staticmethod
    def _take_lines(lines: SimpleQueue[str], on_line: Callable[[str], None]) -> None:
        try:
            while True:
                on_line(lines.get_nowait())
        except Empty:
            return
