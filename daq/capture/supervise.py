"""One instrument of the run: opened, read, watched, and opened again when its link breaks."""

from __future__ import annotations

import asyncio
import sys
import traceback
from collections.abc import Callable, Sequence

from daq.capture.spec import Heard
from daq.capture.typed import heard
from daq.capture.watch import Finding, Health, Watch, useful_count
from daq.cards.instrument import InstrumentCard
from daq.driver_api import Driver, Instrument
from daq.errors import SpinvoltError, TransportError, TransportReason
from daq.model.clock import Clock
from daq.model.reading import Quality, Reading

__all__ = ["FIRST_PAUSE_S", "LONGEST_PAUSE_S", "Supervisor"]

FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 10.0
_CLOSE_WITHIN_S = 1.5


class Supervisor:
    """Keeps one instrument going; what happens to it never reaches the others.

    Args:
        name: unique in this run.
        card: checked by the driver.
        address: as the user gave it.
        driver: speaks the card's protocol.
        clock: for stamps and pauses.
        on_readings: takes readings as the driver gave them.
        on_event: takes an event's kind and sentence.

    Attributes:
        name: unique in this run.
        opened: it has been open at least once.
        trouble: the sentence that tells what is wrong now; empty while all is well.
        senseless: its address can't be one, so no further try is made.
        useful: readings it has given so far, bad frames and losses not counted.
    """

    def __init__(
        self,
        name: str,
        card: InstrumentCard,
        address: str,
        driver: Driver,
        clock: Clock,
        on_readings: Callable[[Sequence[Reading]], None],
        on_event: Callable[[str, str], None],
    ) -> None:
        self.name = name
        self.card = card
        self.address = address
        self.opened = False
        self.trouble = ""
        self.senseless = False
        self.useful = 0
        self._driver = driver
        self._clock = clock
        self._on_readings = on_readings
        self._on_event = on_event
        self._instrument: Instrument | None = None
        self._watch: Watch | None = None
        self._down_ns: int | None = None
        self._pause_s = FIRST_PAUSE_S

    async def run(self) -> None:
        """Open, read, open again, until cancelled or the address proves senseless."""
        while True:
            error = await self._one_connection()
            self.senseless = isinstance(error, TransportError) and error.reason is TransportReason.BAD_ADDRESS
            if self.senseless:
                return
            pause_s, self._pause_s = self._pause_s, min(2 * self._pause_s, LONGEST_PAUSE_S)
            await self._clock.sleep(pause_s)

    def tick(self) -> None:
        """Look for silence and junk, and pass on what the driver has to say; a few times a second."""
        instrument, watch = self._instrument, self._watch
        if instrument is None or watch is None:
            return
        for remark in instrument.status.remarks:
            self._on_event("note", remark)
        instrument.status.remarks.clear()
        if self.address != "keyboard":
            self._tell(watch.check(instrument.status, self._clock.now_ns()))

    def nobody_listened(self) -> None:
        """The capture stood still: what came until now was not read, and is no silence of the instrument."""
        if self._watch is not None:
            self._watch.nobody_listened(self._clock.now_ns())

    def typed(self, line: str) -> Heard | None:
        """Hand a typed line to the instrument; gives what it was understood as, None where it says nothing."""
        instrument = self._instrument
        if instrument is None:
            return Heard(f"{self.name} is not connected: the line was not taken.", understood=False)
        before = len(instrument.status.remarks)
        readings = instrument.typed(line, self._clock.now_ns())
        self._take(readings)
        return heard(line, readings, instrument.status.remarks[before:], self.card.channel)

    async def _one_connection(self) -> SpinvoltError:
        instrument: Instrument | None = None
        try:
            instrument = self._driver.connect(self.card, self.address, self._clock)
            await instrument.open()
            self._is_open(instrument)
            while True:
                self._take(await instrument.receive())
                # One that never pauses would else keep everyone else waiting, also whoever wants to stop.
                await asyncio.sleep(0)
        except SpinvoltError as error:
            self._is_down(error)
            return error
        except Exception as error:  # noqa: BLE001 - a named border: a driver from elsewhere may fail in any way
            traceback.print_exc(file=sys.stderr)
            wrapped = SpinvoltError(f"The driver of {self.name} failed: {type(error).__name__}: {error}.")
            self._is_down(wrapped)
            return wrapped
        finally:
            self._instrument = self._watch = None
            if instrument is not None:
                await _close(instrument)

    def _is_open(self, instrument: Instrument) -> None:
        self._instrument = instrument
        now_ns = self._clock.now_ns()
        self._watch = Watch(self.name, self.address, self.card, now_ns)
        again = "again" if self.opened else "now"
        self.opened = True
        self.trouble = ""
        if self._down_ns is not None:
            gone_s = (now_ns - self._down_ns) / 1e9
            text = f"{self.name} ({self.address}) is connected {again}, after {gone_s:.1f} s."
            self._on_event("link_back", text)
            self._down_ns = None

    def _is_down(self, error: SpinvoltError) -> None:
        """Tell it once; the tries that follow only keep the sentence."""
        was_down = self._down_ns is not None
        self.trouble = str(error)
        if was_down:
            return
        self._down_ns = self._clock.now_ns()
        if self.opened:
            lost = [Reading(n, self._down_ns, None, Quality.LOST) for n in range(len(self.card.channel))]
            self._on_readings(lost)
        self._on_event("link_lost" if self.opened else "refused", self.trouble)

    def _take(self, readings: Sequence[Reading]) -> None:
        if not readings:
            return
        useful = useful_count(readings)
        self.useful += useful
        if useful:
            self._pause_s = FIRST_PAUSE_S
        self._on_readings(readings)
        if self._watch is not None and self._instrument is not None:
            self._tell(self._watch.readings(readings, self._instrument.status, self._clock.now_ns()))

    def _tell(self, finding: Finding | None) -> None:
        if finding is None:
            return
        self.trouble = "" if finding.health is Health.WELL else finding.text
        self._on_event(finding.health.value, finding.text)


async def _close(instrument: Instrument) -> None:
    """Close even while being cancelled, and never wait longer than the contract allows."""
    try:
        async with asyncio.timeout(_CLOSE_WITHIN_S):
            await instrument.aclose()
    except Exception:  # noqa: BLE001 - a named border: a driver from elsewhere may fail in any way
        traceback.print_exc(file=sys.stderr)
