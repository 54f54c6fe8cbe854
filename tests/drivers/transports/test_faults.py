"""Every foreign exception about a port becomes one of ours, with a reason and the next step."""

from __future__ import annotations

import ast
import builtins
import errno
import importlib.util
import inspect
import os
import pkgutil
import socket
import termios
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial
import serial.serialutil

from daq.driver_api import TransportError, TransportReason
from drivers.transports.faults import PYSERIAL_EXCEPTIONS, foreign_exceptions, link_lost, open_failed

HERE = "/dev/ttyUSB9"
URL = "socket://127.0.0.1:7000"

# What pyserial's own tools and the parts for other systems raise; none of them is reached by serial_for_url.
NOT_PORTS = {"serial.tools", "serial.threaded", "serial.__main__", "serial.serialjava", "serial.serialcli"}


def serial_sources() -> Iterator[tuple[str, Path]]:
    for info in pkgutil.walk_packages(serial.__path__, "serial."):
        if not any(info.name.startswith(part) for part in NOT_PORTS):
            spec = importlib.util.find_spec(info.name)
            if spec is not None and spec.origin is not None:
                yield info.name, Path(spec.origin)


def raised_names(source: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(source.read_text("utf-8"))):
        if isinstance(node, ast.Raise) and node.exc is not None:
            called = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            yield ast.unparse(called)


def exception_classes_defined(source: Path) -> Iterator[str]:
    known = {name for name in dir(builtins) if inspect.isclass(getattr(builtins, name))}
    exceptions = {n for n in known if issubclass(getattr(builtins, n), BaseException)} | set(
        PYSERIAL_EXCEPTIONS
    )
    for node in ast.walk(ast.parse(source.read_text("utf-8"))):
        if isinstance(node, ast.ClassDef) and any(ast.unparse(base) in exceptions for base in node.bases):
            yield node.name


def test_the_list_of_pyserials_exception_classes_is_complete() -> None:
    found = {name for _, path in serial_sources() for name in exception_classes_defined(path)}
    assert found == PYSERIAL_EXCEPTIONS
    for name in found:
        assert issubclass(getattr(serial.serialutil, name), foreign_exceptions())


def test_what_pyserial_lets_pass_from_the_terminal_interface_is_translated_too() -> None:
    # serialposix calls tcgetattr and tcsetattr; their exception is no OSError.
    assert not issubclass(termios.error, OSError)
    assert issubclass(termios.error, foreign_exceptions())


def test_everything_that_pyserial_raises_by_name_is_translated() -> None:
    raised = {name for _, path in serial_sources() for name in raised_names(path)}
    for name in raised - {"e", "err", "error", "msg"}:  # re-raised as they came
        short = name.split(".")[-1]
        cls = getattr(serial.serialutil, short, None) or getattr(builtins, short, None)
        if short in (
            "WinError",
            "portNotOpenError",
        ):  # an OSError by another name; an instance kept for old callers
            continue
        assert cls is not None, f"pyserial raises {name}, of which nothing is known here"
        assert issubclass(cls, foreign_exceptions()), f"pyserial raises {name}, which would pass the border"


def wrapped(cause: BaseException) -> serial.SerialException:
    """As pyserial does it: its own exception, raised while handling the cause, with the text of it."""
    try:
        try:
            raise cause
        except BaseException as error:  # noqa: BLE001 - whatever the test hands in
            raise serial.SerialException(f"could not open port: {error}")  # noqa: B904 - as pyserial does
    except serial.SerialException as outer:
        return outer


@pytest.mark.parametrize(
    ("error", "address", "reason", "told"),
    [
        (serial.SerialException(errno.ENOENT, "x"), HERE, TransportReason.NOT_FOUND, "There is no port"),
        (serial.SerialException(errno.EBUSY, "x"), HERE, TransportReason.BUSY, "in use by another program"),
        (serial.SerialException(errno.EAGAIN, "x"), HERE, TransportReason.BUSY, "second run"),
        (wrapped(BlockingIOError(errno.EAGAIN, "x")), HERE, TransportReason.BUSY, "end that one first"),
        (serial.SerialException(errno.EACCES, "x"), HERE, TransportReason.NOT_PERMITTED, "No permission"),
        (wrapped(termios.error(errno.ENOTTY, "x")), HERE, TransportReason.BAD_ADDRESS, "no serial port"),
        (termios.error(errno.EINVAL, "x"), HERE, TransportReason.BAD_ADDRESS, "no serial port"),
        (IsADirectoryError(errno.EISDIR, "x"), "/dev", TransportReason.BAD_ADDRESS, "no serial port"),
        (ValueError("Invalid baud rate: 7"), HERE, TransportReason.BAD_ADDRESS, "Invalid baud rate: 7"),
        (OSError(errno.EIO, "Input/output error"), HERE, TransportReason.OTHER, "Input/output error"),
        # What pyserial says on Windows, where the number stands in the text alone.
        (
            serial.SerialException("could not open port 'COM9': FileNotFoundError(2, 'x', None, 2)"),
            "COM9",
            TransportReason.NOT_FOUND,
            "There is no port COM9",
        ),
        (
            serial.SerialException("could not open port 'COM3': PermissionError(13, 'x', None, 5)"),
            "COM3",
            TransportReason.BUSY,
            "in use",
        ),
        (
            wrapped(ConnectionRefusedError(errno.ECONNREFUSED, "x")),
            URL,
            TransportReason.UNREACHABLE,
            "refused",
        ),
        (wrapped(TimeoutError("timed out")), URL, TransportReason.UNREACHABLE, "in time"),
        (wrapped(socket.gaierror(-2, "x")), "socket://no.such:1", TransportReason.UNREACHABLE, "not known"),
        (wrapped(TypeError("x")), "socket://host", TransportReason.BAD_ADDRESS, "socket://127.0.0.1:7000"),
        (ImportError("no hid"), "cp2110://x", TransportReason.UNAVAILABLE, "library"),
    ],
)
def test_each_cause_gets_its_reason_and_a_sentence(
    error: BaseException, address: str, reason: TransportReason, told: str
) -> None:
    translated = open_failed(error, address)
    assert isinstance(translated, TransportError)
    assert translated.reason is reason
    assert translated.address == address
    assert told in str(translated)
    assert address in str(translated)
    assert str(translated).endswith(".")


def test_no_permission_names_the_group_that_has_it(tmp_path: Path) -> None:
    import grp

    port = tmp_path / "port"
    port.touch()
    os.chown(port, -1, os.getgid())
    text = str(open_failed(PermissionError(errno.EACCES, "x"), str(port)))
    assert f"group {grp.getgrgid(os.getgid()).gr_name!r}" in text
    assert "usermod -aG" in text


def test_a_lost_link_says_what_to_check() -> None:
    error = link_lost(OSError(errno.EIO, "Input/output error"), HERE)
    assert error.reason is TransportReason.LINK_LOST
    assert str(error) == (
        f"The link to {HERE} broke (Input/output error): check the plug, the cable and the instrument's power."
    )
