"""The finding process: one request on standard input, messages on standard output; see :mod:`daq.finding.entries`.

It ends when its standard input does: whoever wanted to know has gone.
"""

from __future__ import annotations

import asyncio
import os
import sys
import threading
from collections.abc import Sequence

import msgspec

from daq.cards.instrument import InstrumentCard
from daq.catalog import Catalog, load_catalog
from daq.errors import SpinvoltError, UsageError
from daq.finding.ear import listen_at
from daq.finding.entries import Failed, Found, Listened, Message, Progress, Request
from daq.finding.live import read_live
from daq.finding.look import look_around
from daq.model.clock import SystemClock
from daq.registry import load_registry

__all__ = ["main"]


def main() -> int:
    """Do what is asked; the exit status is 0 when there was an answer, else 1."""
    try:
        request = msgspec.json.decode(sys.stdin.buffer.readline(), type=Request)
        answer: Found | Listened = asyncio.run(_answer(request))
    except (UsageError, msgspec.DecodeError) as error:
        return _fail(str(error), usage=True)
    except SpinvoltError as error:
        return _fail(str(error))
    except asyncio.CancelledError:
        return 1
    except Exception as error:  # noqa: BLE001 - a named border: drivers from elsewhere may fail in any way
        return _fail(f"Finding met a fault of its own: {type(error).__name__}: {error}.")
    _send(answer)
    return 0


async def _answer(request: Request) -> Found | Listened:
    _end_with_stdin(asyncio.get_running_loop(), asyncio.current_task())
    catalog = load_catalog(load_registry())
    if request.address is None:
        return await look_around(catalog, request.seconds)
    cards = _cards(catalog, request.cards)
    if request.line is not None:
        card = msgspec.structs.replace(cards[0], transport=request.line)
        driver = catalog.registry.driver(card.protocol)
        return await read_live(request.address, card, driver, SystemClock(), _send)
    return await listen_at(
        request.address,
        cards,
        catalog.registry,
        SystemClock(),
        request.seconds,
        lambda text: _send(Progress(text)),
        each=bool(request.cards),
    )


def _cards(catalog: Catalog, names: Sequence[str]) -> list[InstrumentCard]:
    if names:
        return [catalog.instrument(name) for name in names]
    return [found.card for found in catalog.instruments.values()]


def _end_with_stdin(loop: asyncio.AbstractEventLoop, task: asyncio.Task[object] | None) -> None:
    def wait_for_end() -> None:
        # Not through sys.stdin: a thread in its lock would hang the exit.
        while os.read(0, 4096):
            continue
        try:
            loop.call_soon_threadsafe(task.cancel if task is not None else loop.stop)
        except RuntimeError:
            return  # the answer was there first

    threading.Thread(target=wait_for_end, name="end of input", daemon=True).start()


def _send(message: Message) -> None:
    try:
        os.write(1, msgspec.json.encode(message) + b"\n")
    except OSError:
        return  # nobody listens any more; the end of the input ends us


def _fail(text: str, *, usage: bool = False) -> int:
    _send(Failed(text, usage))
    return 1


if __name__ == "__main__":
    sys.exit(main())
