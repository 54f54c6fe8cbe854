"""Which time of day each moment of a session was: from its start, and from every look at both clocks since. Pure.

Session time runs on a clock of its own, which nobody sets and which stands still
while the computer sleeps. A date is what the computer's wall clock showed at that
moment: up to a look that finds it elsewhere, what it showed before; from there on,
what it shows now. So a sleep makes all that follows later, and a clock that was set
counts from when it was set. A clock that shows no date a run can have, such as 1970
on a computer that has not asked for the time yet, says nothing: the dates before
are then worked back from the first one it does show, and there is none where it
never did.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from daq.model.counted import counted
from daq.model.duration import duration_words
from daq.recording.entries import UNKNOWN_START

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from daq.recording.entries import ClockEntry, SessionEntry

__all__ = ["WallClock", "date_of", "may_be_a_date", "moment_of", "start_text"]

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_FIRST = datetime(2026, 1, 1, tzinfo=UTC)
"""No run was recorded before this program was there: a computer that shows an earlier date has not been set."""
_END_YEAR = 2200
_MICROSECOND = timedelta(microseconds=1)
_LEAST_STEP_NS = 500_000_000
"""What the two clocks part by less than this is passed over until it has added up: they drift, and a busy
computer reads them one some time after the other."""
_MOST_TOLD = 5


class WallClock:
    """The dates of one session's moments."""

    def __init__(self) -> None:
        self._from_ns = array("q")
        """Session times from which on another date counts, in order."""
        self._zero_ns = array("q")
        """For each, the date that session time 0 would have by it: nanoseconds since 1970."""
        self._may_be_unset = False
        self._worked_back = False
        self._newest_ns = 0

    def begin(self, session: SessionEntry) -> None:
        """Take in the session's first line; before anything else."""
        start = date_of(session)
        self._may_be_unset = session.source != "import"
        if start is not None:
            self._step(0, _since_epoch_ns(start))

    def take(self, entry: ClockEntry) -> str | None:
        """Take in a look at both clocks.

        Returns:
            Why it can't be used, where it makes no sense. A clock that shows no date
            of a run does make sense, and is passed over.
        """
        shown = _with_zone(entry.utc)
        if shown is None:
            return "its utc is no time"
        if entry.t_ns < self._newest_ns:
            return f"t_ns = {entry.t_ns} runs back"
        self._newest_ns = entry.t_ns
        zero_ns = _since_epoch_ns(shown) - entry.t_ns
        # A clock that was never set may reach a date by counting on, so it is the beginning that tells.
        if zero_ns < _FIRST_NS or shown.year >= _END_YEAR:
            return None
        if not self._zero_ns:
            self._worked_back = True
            self._step(0, zero_ns)
        elif abs(zero_ns - self._zero_ns[-1]) >= _LEAST_STEP_NS:
            self._step(entry.t_ns, zero_ns)
        return None

    def _step(self, t_ns: int, zero_ns: int) -> None:
        if self._from_ns and self._from_ns[-1] == t_ns:
            self._zero_ns[-1] = zero_ns
            return
        self._from_ns.append(t_ns)
        self._zero_ns.append(zero_ns)

    @property
    def known(self) -> bool:
        """Whether the session's moments have dates at all."""
        return bool(self._zero_ns)

    def utc(self, t_ns: int) -> datetime | None:
        """The date of a moment, in UTC, to the microsecond; None where none is known.

        Args:
            t_ns: session time.
        """
        if not self.known:
            return None
        zero_ns = self._zero_ns[max(bisect_right(self._from_ns, t_ns) - 1, 0)]
        return _EPOCH + timedelta(microseconds=(zero_ns + t_ns) // 1000)

    def utc_us(self, t_ns: NDArray[np.int64]) -> NDArray[np.int64]:
        """The dates of many moments, in whole microseconds since 1970; each as :meth:`utc` gives it.

        Args:
            t_ns: session times.

        Raises:
            ValueError: no date is known.
        """
        import numpy as np

        if not self.known:
            raise ValueError("the session has no dates")
        piece = np.searchsorted(np.frombuffer(self._from_ns, np.int64), t_ns, side="right") - 1
        zero_ns = np.frombuffer(self._zero_ns, np.int64)[np.maximum(piece, 0)]
        # In microseconds, as the sum may lie beyond what 64 bits hold in nanoseconds.
        return np.asarray(zero_ns // 1000 + (zero_ns % 1000 + t_ns) // 1000)

    def told(self) -> list[str]:
        """What a reader of the dates must know, in sentences; none where they just run on from the start."""
        if not self.known:
            never = "The computer's clock was not set during the run, so its moments have no dates."
            return [never] if self._may_be_unset else []
        back = "The computer's clock was not set when the run began: dates are worked back from when it was."
        said = [back] if self._worked_back else []
        steps = self._steps()
        said += [_step_words(*step) for step in steps[:_MOST_TOLD]]
        if len(steps) > _MOST_TOLD:
            said.append(f"So it went {counted(len(steps) - _MOST_TOLD, 'more time')}.")
        return said

    def _steps(self) -> list[tuple[int, int]]:
        """Where dates go on from another one, and by how much."""
        by_ns = [after - before for before, after in pairwise(self._zero_ns)]
        return list(zip(self._from_ns[1:], by_ns, strict=True))


def date_of(session: SessionEntry) -> datetime | None:
    """When a session started, in UTC; None where its first line gives no date that can be one.

    That of an imported log may be any but 1970's first moment, which stands for none.
    """
    start = moment_of(session.started_utc)
    if start is None or start < (_EPOCH + _MICROSECOND if session.source == "import" else _FIRST):
        return None
    return start


def start_text(shown: datetime) -> str:
    """How a session's first line gives what the clock shows as it starts; in UTC.

    Of a clock beyond our era it says that the start isn't known: a line with that date would be no session's.
    """
    text = shown.isoformat(timespec="microseconds").replace("+00:00", "Z")
    return UNKNOWN_START if moment_of(text) is None else text


def may_be_a_date(moment: datetime) -> bool:
    """Whether a run can have been at that moment; else the clock that shows it has not been set."""
    return _FIRST <= moment and moment.year < _END_YEAR


def moment_of(text: str) -> datetime | None:
    """A time of our era, in UTC; None where the text is none in RFC 3339, or has no zone."""
    moment = _with_zone(text)
    return moment.astimezone(UTC) if moment is not None and 1970 <= moment.year < _END_YEAR else None


def _with_zone(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo is not None else None


def _since_epoch_ns(moment: datetime) -> int:
    return (moment - _EPOCH) // _MICROSECOND * 1000


def _step_words(t_ns: int, by_ns: int) -> str:
    way, why = ("later", "it slept, or its clock") if by_ns > 0 else ("earlier", "its clock")
    return (
        f"From {t_ns / 1e9:.1f} s on, the computer's dates are {duration_words(abs(by_ns) / 1e9)} {way}: "
        f"{why} was set."
    )


_FIRST_NS = _since_epoch_ns(_FIRST)
