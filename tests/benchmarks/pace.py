"""Session time that runs faster than the computer's, but for calm stretches at its own pace."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Self

__all__ = ["Pace"]


class Pace(NamedTuple):
    """The same in every process of a benchmark, for all of them read one monotonic clock.

    Attributes:
        begun_ns: when the session's time is 0, on that clock; before, it runs at its pace.
        times: so many times faster.
        calm_s: how long a calm stretch lasts.
        calm_at_s: session times at which one begins, in order and further apart than that.
    """

    begun_ns: int
    times: float
    calm_s: float
    calm_at_s: Sequence[float]

    def session_ns(self, now_ns: int) -> int:
        """Session time at a moment of the monotonic clock."""
        left_ns, passed_ns, calm_ns = now_ns - self.begun_ns, 0, round(self.calm_s * 1e9)
        if left_ns <= 0:
            return left_ns
        for at_s in self.calm_at_s:
            fast_ns = round((at_s * 1e9 - passed_ns) / self.times)
            if left_ns < fast_ns:
                break
            left_ns, passed_ns = left_ns - fast_ns, round(at_s * 1e9)
            if left_ns < calm_ns:
                return passed_ns + left_ns
            left_ns, passed_ns = left_ns - calm_ns, passed_ns + calm_ns
        return passed_ns + round(left_ns * self.times)

    def times_at(self, session_ns: int) -> float:
        """How much faster than the computer's clock session time passes then."""
        seconds = session_ns / 1e9
        calm = seconds < 0 or any(at_s <= seconds < at_s + self.calm_s for at_s in self.calm_at_s)
        return 1.0 if calm else self.times

    def words(self) -> list[str]:
        """As arguments of a command."""
        return [str(self.begun_ns), str(self.times), str(self.calm_s), *map(str, self.calm_at_s)]

    @classmethod
    def from_words(cls, words: Sequence[str]) -> Self:
        """From the arguments of a command."""
        times, calm_s, *calm_at_s = map(float, words[1:])
        return cls(int(words[0]), times, calm_s, calm_at_s)
