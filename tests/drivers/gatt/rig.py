"""Starts a private D-Bus bus with the imitation of BlueZ on it, and tells the imitation what to do.

Both are processes of their own, started per test and ended by their ids. The
code under test finds the bus by DBUS_SYSTEM_BUS_ADDRESS, as any program does.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Literal, Self

from dbus_fast import Message, MessageType
from dbus_fast.aio import MessageBus

from tests.drivers.gatt import bluez_service

AdapterState = Literal["on", "off", "none", "classic"]

_CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
    {deny}
  </policy>
</busconfig>
"""
_SEARCH_PATH = os.environ.get("PATH")
"""As it was at the start; the tests empty it."""
_DENY = '<deny send_destination="org.bluez" send_interface="org.freedesktop.DBus.ObjectManager"/>'


def dbus_daemon() -> str:
    """Where dbus-daemon is; a test without it fails, because it would prove nothing."""
    found = shutil.which("dbus-daemon", path=_SEARCH_PATH)
    if found is None:
        raise AssertionError(
            "dbus-daemon is missing: install the Debian package dbus (.ci/debian-packages does)"
        )
    return found


class Bus:
    """A private dbus-daemon."""

    def __init__(self, folder: Path, *, deny_bluez: bool = False) -> None:
        self.socket = folder / "bus"
        config = folder / "bus.conf"
        config.write_text(_CONFIG.format(socket=self.socket, deny=_DENY if deny_bluez else ""))
        self.address = f"unix:path={self.socket}"
        self._process = _start(
            [dbus_daemon(), f"--config-file={config}", "--nofork", "--nopidfile", "--print-address"]
        )

    def end(self) -> None:
        """End it; it takes its socket away."""
        _end(self._process)

    def kill(self) -> None:
        """End it as a crash does, which leaves the socket's file behind."""
        self._process.kill()
        self._process.wait(30)


class Rig:
    """A bus, the imitation on it, and a connection to command it. Use it as an async context manager."""

    def __init__(self, folder: Path, adapter: AdapterState = "on", *, deny_bluez: bool = False) -> None:
        self.bus = Bus(folder, deny_bluez=deny_bluez)
        self.address = self.bus.address
        self._service: subprocess.Popen[str] | None = None
        self._adapter = adapter
        self._commands: MessageBus | None = None

    async def __aenter__(self) -> Self:
        try:
            self.start_service()
            self._commands = await MessageBus(bus_address=self.address).connect()
        except BaseException:
            self._end()
            raise
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._commands is not None:
            self._commands.disconnect()
            # A bus that a test has ended ends its connections with an error.
            with contextlib.suppress(EOFError, OSError):
                await asyncio.wait_for(_gone(self._commands), 30.0)
        self._end()

    @property
    def service_pid(self) -> int:
        """Process id of the imitation."""
        if self._service is None:
            raise RuntimeError("the service is not running")
        return self._service.pid

    def start_service(self) -> None:
        """Start the imitation and wait until it has its name."""
        script = str(Path(bluez_service.__file__))
        self._service = _start([sys.executable, script, self.address, self._adapter])

    def end_service(self) -> None:
        """As if bluetoothd had crashed."""
        if self._service is not None:
            _end(self._service)
            self._service = None

    async def device(self, device: dict[str, Any]) -> None:
        """Put a device into reach, or change the one of that address."""
        await self.do("device", address=device["address"], device=device)

    async def drop(self, address: str) -> None:
        """Break its link."""
        await self.do("drop", address=address)

    async def silence(self, address: str, *, silent: bool = True) -> None:
        """Let it say nothing while its link counts as up."""
        await self.do("silence", address=address, silent=silent)

    async def send(self, address: str, uuid: str, value: bytes) -> None:
        """One notification, besides those of the stream."""
        await self.do("send", address=address, uuid=uuid, value=value.hex())

    async def remove(self, address: str, *, for_good: bool = False) -> None:
        """Let its object vanish from the bus without a word about the link."""
        await self.do("remove", address=address, for_good=for_good)

    async def fault(self, member: str, error: str, text: str) -> None:
        """Answer every call of a method with an error, until ``mend``."""
        await self.do("fault", member=member, error=error, text=text)

    async def sent(self, address: str) -> int:
        """Notifications that its streams have sent."""
        return int((await self.do("count", address=address))["sent"])

    async def calls(self, member: str) -> int:
        """How often a method has been called."""
        return int((await self.do("count"))["counts"].get(member, 0))

    async def do(self, what: str, **order: Any) -> dict[str, Any]:
        """Send one command; it has been carried out when this returns."""
        if self._commands is None:
            raise RuntimeError("the rig is not running")
        return await _ask(self._commands, what, order)

    def _end(self) -> None:
        self.end_service()
        self.bus.end()


def command(bus_address: str, what: str, **order: Any) -> None:
    """As :meth:`Rig.do`, for code that can't await: over a connection of its own, in a thread of its own."""

    async def once() -> None:
        bus = await MessageBus(bus_address=bus_address).connect()
        await _ask(bus, what, order)
        bus.disconnect()
        await asyncio.wait_for(_gone(bus), 30.0)

    thread = threading.Thread(target=asyncio.run, args=(once(),))
    thread.start()
    thread.join()


async def _ask(bus: MessageBus, what: str, order: dict[str, Any]) -> dict[str, Any]:
    message = Message(
        destination="org.bluez",
        path="/rig",
        interface="spinvolt.Rig",
        member="Do",
        signature="s",
        body=[json.dumps({"do": what, **order})],
    )
    answer = await asyncio.wait_for(bus.call(message), 30.0)
    if answer is None or answer.message_type is not MessageType.METHOD_RETURN:
        raise AssertionError(f"the rig refused {what}: {answer}")
    result: dict[str, Any] = json.loads(answer.body[0])
    return result


async def _gone(bus: Any) -> None:
    # Any: dbus-fast leaves this method without types.
    await bus.wait_for_disconnect()


def _start(command: list[str]) -> subprocess.Popen[str]:
    """Start a process and wait for its first line, which says that it is ready."""
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True)
    pipe: IO[str] | None = process.stdout
    if pipe is None or not pipe.readline():
        _end(process)
        raise AssertionError(f"{command[0]} ended at once, with status {process.returncode}")
    return process


def _end(process: subprocess.Popen[str]) -> None:
    process.terminate()
    try:
        process.wait(30)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(30)
    if process.stdout is not None:
        process.stdout.close()
