"""The tachometer: counts marks over a window without a hole between windows, and sends a line of text."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from random import Random

__all__ = ["Tach", "TachLine"]


@dataclass(frozen=True)
class TachLine:
    """A line and when it leaves the instrument, seconds of bench time."""

    ready_s: float
    text: str

    @property
    def wire(self) -> bytes:
        """The bytes on the line."""
        return self.text.encode("ascii") + b"\r\n"


class Tach:
    """Mean speed over the ``window_s`` just gone, sent ``delay_s`` after its end.

    Args:
        random: the instrument's own error and its false readings.
        step_s: time between two calls of :meth:`observe`.
        window_s: length of the window; the next begins where it ends.
        delay_s: from the window's end to the line.
        false_share: share of the lines that count every mark twice.
        gap: silence, from and for how long in s.
    """

    def __init__(
        self,
        random: Random,
        step_s: float,
        *,
        window_s: float = 0.5,
        delay_s: float = 0.05,
        false_share: float = 0.0,
        gap: tuple[float, float] | None = None,
    ) -> None:
        self.window_s, self.delay_s = window_s, delay_s
        self._random = random
        self.scale_error = random.uniform(-0.0005, 0.0005)
        self._window_steps = round(window_s / step_s)
        self._false_share = false_share
        self._gap = gap
        self._steps = 0
        self._from_revolutions = 0.0
        self._coming: deque[TachLine] = deque()

    def observe(self, t_s: float, revolutions: float) -> None:
        """Take in the revolutions turned by ``t_s``."""
        self._steps += 1
        if self._steps % self._window_steps:
            return
        speed_rpm = 60.0 * (revolutions - self._from_revolutions) / self.window_s
        self._from_revolutions = revolutions
        if not self._silent(t_s):
            self._coming.append(TachLine(t_s + self.delay_s, f"{self._shown(speed_rpm)} rpm"))

    def take(self, t_s: float) -> list[TachLine]:
        """The lines due by ``t_s``, each once."""
        due = []
        while self._coming and self._coming[0].ready_s <= t_s + 1e-9:
            due.append(self._coming.popleft())
        return due

    def _silent(self, t_s: float) -> bool:
        return self._gap is not None and self._gap[0] <= t_s < self._gap[0] + self._gap[1]

    def _shown(self, speed_rpm: float) -> int:
        twice = 2.0 if self._random.random() < self._false_share else 1.0
        return round(speed_rpm * twice * (1.0 + self.scale_error))
