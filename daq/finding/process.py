"""The caller's side of finding: start the process, pass its progress on, take its answer."""

from __future__ import annotations

import contextlib
import math
import os
import queue
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from typing import IO, Any, TypeVar, cast

import msgspec

from daq.cards.instrument import TransportDefaults
from daq.errors import SpinvoltError, UsageError
from daq.finding.entries import (
    DEFAULT_LISTEN_S,
    DEFAULT_LOOK_S,
    Failed,
    Found,
    Listened,
    Live,
    Message,
    Progress,
    Request,
)

__all__ = ["find", "listen", "read_on"]

_LONGEST_S = 120.0
_CARES_EVERY_S = 0.1
_ENDS_WITHIN_S = 2.0
_decoder = msgspec.json.Decoder(Message)
_Answer = TypeVar("_Answer", Found, Listened)


def find(
    seconds: float = DEFAULT_LOOK_S,
    *,
    on_progress: Callable[[str], None] | None = None,
    cancel: threading.Event | None = None,
) -> Found:
    """Look for instruments in reach. Nothing is opened and nothing is sent to a port. Blocks; made for a thread.

    Args:
        seconds: how long to listen for Bluetooth LE devices; 0 leaves them out and takes no time.
        on_progress: called in this thread with sentences on what is being done.
        cancel: set it to give up; the call then returns within about 2 s.

    Returns:
        What was found. No Bluetooth is no error: it is one of the remarks.

    Raises:
        SpinvoltError: the looking itself failed, or was called off.
    """
    return _ask(Request(seconds), Found, on_progress, cancel)


def listen(
    address: str,
    cards: Sequence[str] = (),
    seconds: float = DEFAULT_LISTEN_S,
    *,
    on_progress: Callable[[str], None] | None = None,
    cancel: threading.Event | None = None,
) -> Listened:
    """Open an address, listen at the usual line settings, and say which cards understand what comes, and how well.

    First it is only listened to. If no card understands what comes, or nothing
    comes, cards whose instrument has to be asked ask it, one after another;
    a card that needs an instrument to say who it is asks nothing else before.
    Blocks; made for a thread.

    Args:
        address: as behind the ``@`` of ``-i CARD@ADDRESS``.
        cards: names or files of the cards to try; none: all that fit such an address.
        seconds: how long to listen at each line setting.
        on_progress: called in this thread with sentences on what is being done.
        cancel: set it to give up; the call then returns within about 2 s.

    Returns:
        Cards that understood something, best first; ``trouble`` says why it
        could not be listened to (in use, gone, no permission).

    Raises:
        UsageError: the address or a card makes no sense.
        SpinvoltError: the listening itself failed, or was called off.
    """
    return _ask(Request(seconds, address, tuple(cards)), Listened, on_progress, cancel)


def read_on(
    address: str,
    card: str,
    line: TransportDefaults,
    on_live: Callable[[Live], None],
    cancel: threading.Event,
) -> Listened:
    """Read one instrument, as a capture would, until it is called off. Blocks; made for a thread.

    Args:
        address: as behind the ``@`` of ``-i CARD@ADDRESS``.
        card: name or file of the card that understood it.
        line: how the line was set then.
        on_live: called in this thread with the newest readings, some five times a second at most.
        cancel: set it to end; the call returns within about 2 s, and the port is free then.

    Returns:
        ``trouble`` says why there is nothing more to read; it is empty where that was called off.

    Raises:
        UsageError: the address or the card makes no sense.
        SpinvoltError: the reading itself failed.
    """
    try:
        return _ask(Request(0.0, address, (card,), line), Listened, None, cancel, on_live)
    except SpinvoltError:
        if cancel.is_set():
            return Listened(address)
        raise


def _ask(
    request: Request,
    wanted: type[_Answer],
    on_progress: Callable[[str], None] | None,
    cancel: threading.Event | None,
    on_live: Callable[[Live], None] | None = None,
) -> _Answer:
    with subprocess.Popen(
        [sys.executable, "-P", "-m", "daq.finding"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        **_own_session(),
    ) as process:
        try:
            answer = _Dialog(process, on_progress, cancel, on_live).answer(request)
        finally:
            _end(process)
    if not isinstance(answer, wanted):
        raise SpinvoltError("The finding process answered something else than it was asked.")
    return answer


class _Dialog:
    """One request and what comes back."""

    def __init__(
        self,
        process: subprocess.Popen[bytes],
        on_progress: Callable[[str], None] | None,
        cancel: threading.Event | None,
        on_live: Callable[[Live], None] | None,
    ) -> None:
        self._process = process
        self._on_live = on_live
        self._on_progress = on_progress
        self._cancel = cancel
        self._lines: queue.Queue[bytes | None] = queue.Queue(1000)
        self._last_words = b""
        threading.Thread(target=self._read_lines, args=(process.stdout,), daemon=True).start()
        self._reader = threading.Thread(target=self._read_words, args=(process.stderr,), daemon=True)
        self._reader.start()

    def answer(self, request: Request) -> Found | Listened:
        self._send(request)
        waited_s, limit_s = 0.0, _LONGEST_S + 30.0 * max(request.seconds, 0.0)
        limit_s = limit_s if request.line is None else math.inf
        while waited_s < limit_s:
            if self._cancel is not None and self._cancel.is_set():
                raise SpinvoltError("Looking for instruments was called off.")
            try:
                line = self._lines.get(timeout=_CARES_EVERY_S)
            except queue.Empty:
                waited_s += _CARES_EVERY_S
                continue
            answer = self._take(line)
            if answer is not None:
                return answer
        raise SpinvoltError(f"Looking for instruments did not end within {limit_s:.0f} s and was given up.")

    def _send(self, request: Request) -> None:
        pipe = cast("IO[bytes]", self._process.stdin)
        # One that ended at once says why on its standard error.
        with contextlib.suppress(OSError):
            pipe.write(msgspec.json.encode(request) + b"\n")
            pipe.flush()

    def _take(self, line: bytes | None) -> Found | Listened | None:
        if line is None:
            self._reader.join(_ENDS_WITHIN_S)
            words = self._last_words.decode("utf-8", "replace").strip().splitlines()[-1:]
            raise SpinvoltError(
                f"Looking for instruments ended without an answer{': ' + words[0] if words else ''}."
            )
        try:
            message: Message = _decoder.decode(line)
        except msgspec.DecodeError:
            self._last_words += line  # what a plugin printed where it should not
            return None
        if isinstance(message, Failed):
            raise UsageError(message.text) if message.usage else SpinvoltError(message.text)
        if isinstance(message, Progress):
            if self._on_progress is not None:
                self._on_progress(message.text)
            return None
        if isinstance(message, Live):
            if self._on_live is not None:
                self._on_live(message)
            return None
        return message

    def _read_lines(self, pipe: IO[bytes]) -> None:
        for line in pipe:
            self._lines.put(line)
        self._lines.put(None)

    def _read_words(self, pipe: IO[bytes]) -> None:
        for line in pipe:
            self._last_words = (self._last_words + line)[-4000:]


def _end(process: subprocess.Popen[bytes]) -> None:
    """The end of its input ends it; what hangs in a driver is ended harder."""
    with contextlib.suppress(OSError):
        cast("IO[bytes]", process.stdin).close()
    for harder in (process.terminate, process.kill):
        try:
            process.wait(_ENDS_WITHIN_S)
            return
        except subprocess.TimeoutExpired:
            harder()


def _own_session() -> dict[str, Any]:
    if sys.platform == "win32":
        return {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
    return {"start_new_session": os.name == "posix"}
