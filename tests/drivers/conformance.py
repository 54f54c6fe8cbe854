"""What every driver must do, shown against real lines. A driver from elsewhere is held to the same."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import AsyncIterator, Awaitable, Callable
from itertools import pairwise

import msgspec
import pytest

from daq.driver_api import (
    Driver,
    Instrument,
    InstrumentCard,
    Quality,
    Reading,
    SystemClock,
    TransportError,
    TransportReason,
)
from tests.drivers.peers import SILENT, Behaviour, Peer
from tests.stopwatch import BARE, stopwatch

__all__ = ["CHECKS", "Check", "PeerMaker", "no_thread_but"]

PeerMaker = Callable[[Behaviour], Peer]
Check = Callable[[Driver, InstrumentCard, Behaviour, PeerMaker], Awaitable[None]]
_READING_WITHIN_S = 30.0
_CLOSES_WITHIN_S = 1.0
_COUNTED = 25
_MOST_BEFORE_BAD = 50


@contextlib.asynccontextmanager
async def _leaves_nothing_behind() -> AsyncIterator[None]:
    tasks, threads = asyncio.all_tasks(), set(threading.enumerate())
    yield
    assert asyncio.all_tasks() == tasks
    await no_thread_but(threads)


async def no_thread_but(threads: set[threading.Thread]) -> None:
    """All others end. One that has done its work takes a moment, and where the machine stops just then a longer one."""
    with stopwatch() as watch:
        async with asyncio.timeout(_READING_WITHIN_S):
            while {each for each in threading.enumerate() if each.name != BARE} != threads:  # noqa: ASYNC110 - see until
                await asyncio.sleep(0.005)
    assert watch.own_s < _CLOSES_WITHIN_S


async def _close_within_a_second(instrument: Instrument) -> None:
    with stopwatch() as watch:
        await instrument.aclose()
    assert watch.own_s < _CLOSES_WITHIN_S


async def _readings(instrument: Instrument, n: int) -> list[Reading]:
    found: list[Reading] = []
    async with asyncio.timeout(_READING_WITHIN_S):
        while len(found) < n:
            came = await instrument.receive()
            assert came, "receive() gives at least one reading"
            found += came
    return found


async def opens_and_yields(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """Good readings come, in order of time, stamped between opening and now, on channels of the card."""
    clock = SystemClock()
    with peer(behaviour) as line:
        async with _leaves_nothing_behind():
            before_ns = clock.now_ns()
            async with driver.connect(card, line.address, clock) as instrument:
                readings = await _readings(instrument, 3)
                assert instrument.status.bytes_received > 0
                assert instrument.status.last_bytes
                assert instrument.status.awaited
    stamps = [r.t_ns for r in readings]
    assert stamps == sorted(stamps)
    assert before_ns <= stamps[0]
    assert stamps[-1] <= clock.now_ns()
    assert {r.channel for r in readings} <= set(range(len(card.channel)))
    assert all(r.value is not None for r in readings if r.quality is Quality.GOOD)
    assert any(r.quality is Quality.GOOD for r in readings)


async def is_cancelled_within_a_second(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """While it waits for an instrument that says nothing."""
    with peer(SILENT) as line:
        async with _leaves_nothing_behind():
            instrument = driver.connect(card, line.address, SystemClock())
            await instrument.open()
            waiting = asyncio.create_task(instrument.receive())
            await asyncio.sleep(0.05)
            with stopwatch() as watch:
                waiting.cancel()
                with contextlib.suppress(asyncio.CancelledError):
                    await waiting
                await instrument.aclose()
            assert watch.own_s < _CLOSES_WITHIN_S


async def loses_no_reading_when_cancelled(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """A wait that is cancelled and begun anew, again and again, misses nothing: what counts up has no holes."""
    assert behaviour.step, "the peer must count up, or a loss could not be seen"
    cancelled = 0
    with peer(behaviour) as line:
        async with driver.connect(card, line.address, SystemClock()) as instrument:
            found: list[Reading] = []
            async with asyncio.timeout(_READING_WITHIN_S):
                while sum(r.channel == 0 for r in found) < _COUNTED or cancelled < _COUNTED:
                    try:
                        found += await asyncio.wait_for(instrument.receive(), 0.003)
                    except TimeoutError:
                        cancelled += 1
    assert {r.quality for r in found} == {Quality.GOOD}
    values = [r.value for r in found if r.channel == 0 and r.value is not None]
    steps = [(after - before) / behaviour.step for before, after in pairwise(values)]
    assert steps == pytest.approx([1.0] * len(steps), abs=0.1)


async def survives_unplugging(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """The loss of the link is told as such, and each time; closing is then no error."""
    with peer(behaviour) as line:
        instrument = driver.connect(card, line.address, SystemClock())
        await instrument.open()
        await _readings(instrument, 1)
        line.unplug()
        for _ in range(2):
            reason = await _reason_of_the_end(instrument)
            assert reason is TransportReason.LINK_LOST
        await _close_within_a_second(instrument)


async def _reason_of_the_end(instrument: Instrument) -> TransportReason:
    async with asyncio.timeout(_READING_WITHIN_S):
        while True:
            try:
                await instrument.receive()
            except TransportError as error:
                return error.reason


async def connects_again_after_a_loss(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """A new connection to the same place works after one was closed."""
    with peer(behaviour) as line:
        threads = set(threading.enumerate())
        for _ in range(2):
            async with driver.connect(card, line.address, SystemClock()) as instrument:
                await _readings(instrument, 1)
            await no_thread_but(threads)  # which may hold the port a moment longer


async def closes_any_number_of_times(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """Before opening, after it, and again."""
    with peer(behaviour) as line:
        async with _leaves_nothing_behind():
            instrument = driver.connect(card, line.address, SystemClock())
            await _close_within_a_second(instrument)
            instrument = driver.connect(card, line.address, SystemClock())
            await instrument.open()
            await _close_within_a_second(instrument)
            await _close_within_a_second(instrument)


async def is_told_of_a_place_that_is_not_there(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """Opening fails with a reason and leaves nothing open."""
    with peer(SILENT) as line:
        address = line.address
    async with _leaves_nothing_behind():
        instrument = driver.connect(card, address, SystemClock())
        with pytest.raises(TransportError) as caught:
            await instrument.open()
        assert caught.value.reason in (TransportReason.NOT_FOUND, TransportReason.UNREACHABLE)
        assert caught.value.address == address
        await _close_within_a_second(instrument)


def _junk(n: int) -> bytes:
    return bytes((7 * n + k * k) % 9 + 1 for k in range(40)) + b"\r\n"


def _spoiled(behaviour: Behaviour) -> Behaviour:
    """The instrument's own messages, each with its value spoiled."""
    unasked, answer, spoil = behaviour.unasked, behaviour.answer, behaviour.spoil
    assert spoil is not None, "the peer must be able to spoil a message, or a false reading could not be seen"
    return behaviour._replace(
        unasked=None if unasked is None else lambda n: spoil(unasked(n)),
        answer=None if answer is None else lambda request: spoil(answer(request)),
    )


async def _shows_as_bad_frames(instrument: Instrument, least: int) -> None:
    """So many bad frames come and are counted, and from the first one on nothing else."""
    found: list[Reading] = []
    bad = 0
    while bad < least:
        came = await _readings(instrument, 1)
        found += came
        bad += sum(r.quality is Quality.BAD_FRAME for r in came)
        assert len(found) < _MOST_BEFORE_BAD, "readings go on coming though nothing but junk was sent"
    qualities = [r.quality for r in found]
    after = found[qualities.index(Quality.BAD_FRAME) :]
    assert {(r.value, r.quality) for r in after} == {(None, Quality.BAD_FRAME)}
    assert instrument.status.bad_frames == bad
    assert instrument.status.bytes_received > 0
    assert instrument.status.last_bytes


async def shows_junk_as_bad_frames(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """Bytes that make no sense are told as bad frames and counted: no value, no silence, no exception.

    One that is asked answers well up to its first reading, for before it a driver may have to settle
    with whom it speaks.
    """
    gone_bad, right = threading.Event(), behaviour.answer
    junk = Behaviour(unasked=_junk)
    if right is not None:
        junk = Behaviour(answer=lambda request: _junk(1) if gone_bad.is_set() else right(request))
    with peer(junk) as line:
        async with driver.connect(card, line.address, SystemClock()) as instrument:
            if right is not None:
                assert {r.quality for r in await _readings(instrument, 1)} == {Quality.GOOD}
                gone_bad.set()
            await _shows_as_bad_frames(instrument, least=1)


async def shows_a_spoiled_message_as_a_bad_frame(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """So are messages of the right form that hold no value: no 0.0 stands in for it."""
    with peer(_spoiled(behaviour)) as line:
        async with driver.connect(card, line.address, SystemClock()) as instrument:
            await _shows_as_bad_frames(instrument, least=3)
            assert not any(r.quality is Quality.GOOD for r in await _readings(instrument, 1))


async def checks_its_own_cards_and_keeps_them_as_data(
    driver: Driver, card: InstrumentCard, behaviour: Behaviour, peer: PeerMaker
) -> None:
    """A card goes into the recording as plain data and comes back the same."""
    driver.check(card)
    assert card.protocol == driver.name
    assert msgspec.convert(msgspec.to_builtins(card), InstrumentCard) == card


CHECKS: list[Check] = [
    opens_and_yields,
    is_cancelled_within_a_second,
    loses_no_reading_when_cancelled,
    survives_unplugging,
    connects_again_after_a_loss,
    closes_any_number_of_times,
    is_told_of_a_place_that_is_not_there,
    shows_junk_as_bad_frames,
    shows_a_spoiled_message_as_a_bad_frame,
    checks_its_own_cards_and_keeps_them_as_data,
]
