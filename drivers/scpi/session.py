"""The conversation with a SCPI instrument, as a state machine without I/O or clock.

::

    IDENTIFY ──identity──▶ SETUP ──▶ ERRORS ──queue empty──▶ POLL ◀──number── wait
       ▲                                 ▲                     │  ▲
       ├── late answers may still come ──┼── no answer in time ┤  │ function and range
       │   (asks the identity again)     └── answer is no number  │ asked, when it is time
       └───────────────── no answer in time ───────────────── CHECK ◀──behind a number

A reading behind which function and range are asked is given once they are
known, so that the first one of a meter on ohms is flagged already.

After an answer that did not come in time, a number that arrives could belong
to either query. So the identity is asked first: instruments answer in order,
and its answer can't be taken for a number, so all that came before it is old.
"""

from __future__ import annotations

import re
from enum import Enum

from daq.driver_api import ChannelCard, Quality, Reading
from drivers.lines import LineSplitter, RawLine
from drivers.scpi.numbers import parse_number
from drivers.scpi.setting_queries import SettingQueries
from drivers.scpi.settings import ScpiSettings

__all__ = ["ScpiSession"]

_MOST_ERRORS_READ = 20
_MUTE_IDENTITIES = 3
"""An instrument that lets this many identity queries pass unanswered is asked for readings without one."""
_MOST_REMARKS = 50
_MUTE_ERROR_QUERIES = 2
_CHECK_WITHIN_S = 0.5
"""A setting is not measured: it is answered at once or not at all."""
_ERROR_ANSWER = re.compile(rb"([+-]?[0-9]{1,6})\s*,.*", re.DOTALL)


class _State(Enum):
    START = "start"
    IDENTIFY = "identify"
    ERRORS = "errors"
    POLL = "poll"
    CHECK = "check"
    QUIET = "quiet"


class ScpiSession:
    """Requests out, bytes in, readings out.

    Call :meth:`due_ns` for the moment at which :meth:`advance` wants to be
    called; send what it returns; give :meth:`feed` all that arrives.

    Attributes:
        awaited: what is being waited for, in words.
        remarks: sentences for the recording; whoever takes them empties the list.
        timeouts: answers that did not come in time.
        late_answers: answers that came when they were no longer wanted.
    """

    def __init__(self, channel: ChannelCard, settings: ScpiSettings) -> None:
        self.max_frame = settings.max_answer
        self.awaited = f"an answer to {settings.identity}"
        self.remarks: list[str] = []
        self.timeouts = 0
        self.late_answers = 0
        self._channel = channel
        self._settings = settings
        self._lines = LineSplitter(settings.max_answer)
        self._state = _State.START
        self._is_set_up = False
        self._identity: bytes | None = None
        self._mute = 0
        self._mute_errors = 0
        self._resyncing = False
        self._asked_ns: int | None = None
        self._next_poll_ns = 0
        self._quiet_until_ns = 0
        self._errors_read = 0
        self._refusal = ""
        self._sent: set[bytes] = set()
        self._queries = SettingQueries(channel.quantity, settings)
        self._unchecked: Reading | None = None
        """Waits for function and range to be known."""
        self._unanswered = ""
        """The query after a setting that got no answer last."""

    def due_ns(self, now_ns: int) -> int:
        """When :meth:`advance` has something to do, if nothing arrives before."""
        if self._asked_ns is not None:
            patience_s = self._settings.timeout_s
            if self._state is _State.CHECK:
                patience_s = min(patience_s, _CHECK_WITHIN_S)
            return self._asked_ns + round(patience_s * 1e9)
        if self._state is _State.POLL:
            return max(self._next_poll_ns, now_ns)
        return max(self._quiet_until_ns, now_ns) if self._state is _State.QUIET else now_ns

    def advance(self, now_ns: int) -> bytes:
        """What is to be sent now; empty while an answer or the next turn is waited for."""
        if now_ns < self.due_ns(now_ns):
            return b""
        if self._asked_ns is not None:
            self._missed(now_ns)
        if self._state is _State.QUIET and now_ns < self._quiet_until_ns:
            return b""
        return self._request(now_ns)

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        """Take in bytes that arrived at ``t_ns`` and give the readings they complete."""
        readings: list[Reading] = []
        for line in self._lines.feed(data):
            text = line.data.strip()
            if text and not (text in self._sent and line.whole):
                readings += self._answer(RawLine(text, line.whole), t_ns)
        return readings

    def flush(self) -> list[Reading]:
        """The link has ended: an answer cut short is a bad frame if a reading was due."""
        cut = self._lines.flush().strip()
        readings = self._checked()
        if cut and self._state is _State.POLL and self._asked_ns is not None:
            readings.append(Reading(0, self._asked_ns, None, Quality.BAD_FRAME))
        return readings

    def lost(self) -> None:
        """Bytes were dropped on the way: what comes next may be the rest of an answer."""
        self._lines.resync()
        self._queries.missed()
        self._state = _State.IDENTIFY
        self._asked_ns = None

    def _missed(self, now_ns: int) -> None:
        self.timeouts += self._state is not _State.CHECK
        self._asked_ns = None
        self._lines.flush()
        self._resyncing = True
        if self._state is _State.IDENTIFY:
            self._mute += 1
        elif self._state is _State.ERRORS:
            self._mute_errors += 1
        elif self._state is _State.CHECK:
            self._unanswered = self._queries.pending
            self._queries.missed()
        if self._mute >= _MUTE_IDENTITIES and self._identity is None:
            # It knows no identity query. All that is left is to let late answers run out.
            self._state = _State.QUIET
            self._quiet_until_ns = now_ns + round(self._settings.timeout_s * 1e9)
        else:
            self._state = _State.IDENTIFY

    def _request(self, now_ns: int) -> bytes:
        settings = self._settings
        if self._state in (_State.START, _State.IDENTIFY):
            self._state = _State.IDENTIFY
            return self._ask(settings.identity, now_ns)
        if not self._is_set_up:
            self._is_set_up = True
            self._read_errors()
            return b"".join(self._message(command) for command in settings.setup) + self._request(now_ns)
        if self._state is _State.ERRORS:
            return self._ask(settings.error_query, now_ns)
        if self._state is _State.CHECK:
            return self._ask(self._queries.pending, now_ns)
        self._state = _State.POLL
        self._next_poll_ns = now_ns + round(settings.interval_s * 1e9)
        return self._ask(settings.query, now_ns)

    def _ask(self, query: str, now_ns: int) -> bytes:
        self._asked_ns = now_ns
        hint = f" (the instrument reported {self._refusal})" if self._refusal else ""
        # Once it is set up, a reading is what is waited for, whatever is asked in between.
        wanted = self._settings.query if self._is_set_up else query
        self.awaited = f"an answer to {wanted}{hint}"
        return self._message(query)

    def _message(self, command: str) -> bytes:
        data = command.encode("ascii")
        # Some serial instruments send back what they were sent.
        self._sent.add(data)
        return data + b"\n"

    def _answer(self, line: RawLine, t_ns: int) -> list[Reading]:
        if not (line.whole and line.data.isascii() and line.data.decode("ascii").isprintable()):
            # IEEE 488.2 answers are printable ASCII: this is junk, whatever was asked.
            return [Reading(0, t_ns, None, Quality.BAD_FRAME)]
        unasked = self._asked_ns is None
        if unasked or (line.data == self._identity and self._state is not _State.IDENTIFY):
            self.late_answers += 1
            return []
        if self._state is _State.IDENTIFY:
            self._identified(line.data)
            return []
        if self._state is _State.ERRORS:
            self._error_read(line.data)
            return []
        self._asked_ns = None
        if self._state is _State.CHECK:
            return self._setting_told(line.data)
        number = parse_number(line.data)
        if number is None:
            self._read_errors()
            return [Reading(0, t_ns, None, Quality.BAD_FRAME)]
        self._refusal = ""
        earlier, reading = self._checked(), Reading(0, t_ns, *number)
        if self._queries.start_if_due(t_ns):
            self._state, self._unchecked = _State.CHECK, reading
            return earlier
        return [*earlier, self._judged(reading)]

    def _setting_told(self, answer: bytes) -> list[Reading]:
        self._queries.answered(answer)
        if self._queries.pending:
            return []
        self._state = _State.POLL
        return self._checked()

    def _checked(self) -> list[Reading]:
        """The reading that waited for the setting to be known."""
        reading, self._unchecked = self._unchecked, None
        return [] if reading is None else [self._judged(reading)]

    def _judged(self, reading: Reading) -> Reading:
        """In the card's unit, and flagged where the setting is wrong."""
        setting, value = self._queries.setting, reading.value
        quality = setting.judged(value, reading.quality)
        for sentence in setting.remarks:
            self._remark(sentence)
        setting.remarks.clear()
        if value is not None:
            value = value * self._channel.scale + self._channel.offset
        return Reading(0, reading.t_ns, value, quality)

    def _identified(self, answer: bytes) -> None:
        old = parse_number(answer) is not None or _ERROR_ANSWER.fullmatch(answer) is not None
        if old or self._identity not in (None, answer):
            self.late_answers += 1
            return
        if self._identity is None:
            self._identity = answer
            self._remark(f"The instrument identifies itself as {answer.decode('ascii')}.")
        self._asked_ns = None
        self._mute = 0
        self._state = _State.POLL
        if self._is_set_up and self._resyncing:
            # What got no answer may have been refused; the error queue knows.
            self._read_errors()
        self._resyncing = False

    def _read_errors(self) -> None:
        self._errors_read = 0
        has_queue = self._settings.error_query and self._mute_errors < _MUTE_ERROR_QUERIES
        self._state = _State.ERRORS if has_queue else _State.POLL

    def _error_read(self, answer: bytes) -> None:
        match = _ERROR_ANSWER.fullmatch(answer)
        if match is None:
            # Not an error entry: an older answer. The entry is still to come.
            self.late_answers += 1
            return
        self._asked_ns = None
        self._errors_read += 1
        if int(match[1]) == 0 or self._errors_read >= _MOST_ERRORS_READ:
            self._state = _State.POLL
        unanswered, self._unanswered = self._unanswered, ""
        if int(match[1]) != 0 and unanswered:
            # It was not understood, which is no fault of the readings.
            self._queries.give_up(unanswered)
        elif int(match[1]) != 0:
            self._refusal = answer.decode("ascii")
            self._remark(f"The instrument reported an error: {self._refusal}.")

    def _remark(self, sentence: str) -> None:
        if len(self.remarks) < _MOST_REMARKS and sentence not in self.remarks:
            self.remarks.append(sentence)
