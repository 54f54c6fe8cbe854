"""Fixtures: a rig per test, and no Bluetooth of the computer itself in the way."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack
from pathlib import Path
from typing import Protocol

import pytest

from tests.drivers.gatt.rig import AdapterState, Rig


class RigStarter(Protocol):
    """Starts a rig that the fixture ends."""

    async def __call__(self, adapter: AdapterState = "on", *, deny_bluez: bool = False) -> Rig: ...


@pytest.fixture(autouse=True)
def private_bluetooth(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing in these tests may find the computer's own bus, or ask its own bluetoothctl for a version."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/bus")
    empty = tmp_path / "empty-path"
    empty.mkdir()
    monkeypatch.setenv("PATH", str(empty))


@pytest.fixture
async def start_rig(tmp_path: Path) -> AsyncIterator[RigStarter]:
    """Starts a rig with the adapter in a given state."""
    async with AsyncExitStack() as stack:

        async def start(adapter: AdapterState = "on", *, deny_bluez: bool = False) -> Rig:
            return await stack.enter_async_context(Rig(tmp_path, adapter, deny_bluez=deny_bluez))

        yield start
        await close_bleaks_bus()


@pytest.fixture
async def bluez(start_rig: RigStarter) -> Rig:
    """A running rig with its adapter on."""
    return await start_rig("on")


async def close_bleaks_bus() -> None:
    """bleak keeps one connection to the bus for each event loop, and has no way to end it; a test's loop ends."""
    from bleak.backends.bluezdbus import manager

    instance = manager._global_instances.pop(asyncio.get_running_loop(), None)
    if instance is not None and instance._bus is not None:
        instance._bus.disconnect()
        if instance._bus_watcher_task is not None:
            await asyncio.wait({instance._bus_watcher_task})
