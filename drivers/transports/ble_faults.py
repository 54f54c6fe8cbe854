"""The border where the exceptions of bleak, D-Bus and the system about Bluetooth become ours.

Nothing else in the drivers may let one of those through. Each becomes a
:class:`TransportError` with a reason and a sentence that ends in what to do.
bleak's own words are not shown where they would mislead: a timeout has none,
and after a lost link they speak of service discovery.
"""

from __future__ import annotations

import sys
from enum import Enum

from daq.driver_api import TransportError, TransportReason

__all__ = [
    "BLEAK_EXCEPTIONS",
    "UNAVAILABLE",
    "Doing",
    "ble_failed",
    "ble_lost",
    "ble_silent",
    "foreign_ble_exceptions",
]

BLEAK_EXCEPTIONS = frozenset(
    {
        "BleakError",
        "BleakBluetoothNotAvailableError",
        "BleakCharacteristicNotFoundError",
        "BleakDBusError",
        "BleakDeviceNotFoundError",
        "BleakGATTProtocolError",
    }
)
"""Names of bleak's own exception classes that are translated here; a test compares with what it has."""

_Told = tuple[TransportReason, str]
_NOT_RUNNING: _Told = (
    TransportReason.UNAVAILABLE,
    "The Bluetooth service isn't running. Install BlueZ and start the `bluetooth` service.",
)
_NOT_ALLOWED: _Told = (
    TransportReason.NOT_PERMITTED,
    "You're not allowed to use Bluetooth. Ask for access (on many systems: the `bluetooth` group), "
    "then log in again.",
)
_BUS_REFUSED: _Told = (
    TransportReason.NOT_PERMITTED,
    "The system bus refused this user, as it often does in a container with other user numbers. "
    "Start the program as a user that the bus knows.",
)
_NO_BUS: _Told = (
    TransportReason.UNAVAILABLE,
    "Bluetooth isn't available here: no D-Bus system bus is running (common in containers). "
    "Start it, or use a computer with Bluetooth.",
)
_BUS_SILENT: _Told = (
    TransportReason.UNAVAILABLE,
    "The D-Bus system bus isn't answering. Start it, then try again.",
)
_OLD_BLUEZ: _Told = (
    TransportReason.UNAVAILABLE,
    "The Bluetooth service is too old: BlueZ 5.55 or a newer version 5 is needed. Update it.",
)
_NOT_HERE: _Told = (
    TransportReason.UNAVAILABLE,
    "Bluetooth LE can't be used on this system: it has no way to it that the bleak library knows.",
)

UNAVAILABLE: dict[str, _Told] = {
    "NO_BLUETOOTH": (
        TransportReason.UNAVAILABLE,
        "No Bluetooth adapter found. Plug one in, or check that it isn't disabled.",
    ),
    "NO_BLE_CENTRAL_ROLE": (
        TransportReason.UNAVAILABLE,
        "This adapter can't connect to Bluetooth LE devices. Plug in one that can.",
    ),
    "POWERED_OFF": (
        TransportReason.UNAVAILABLE,
        "Bluetooth is switched off. Turn it on, then try again.",
    ),
    "DENIED_BY_USER": (
        TransportReason.NOT_PERMITTED,
        "Bluetooth was denied to this program. Allow it in the system's privacy settings, then try again.",
    ),
    "DENIED_BY_SYSTEM": _BUS_REFUSED,
    "DENIED_BY_UNKNOWN": (
        TransportReason.NOT_PERMITTED,
        "The system denies Bluetooth to this program. Look into its privacy settings and policies.",
    ),
    "UNKNOWN": (
        TransportReason.UNAVAILABLE,
        "Bluetooth isn't available, and the system doesn't say why. Switch it off and on, then try again.",
    ),
}
"""By the name of bleak's reason; a test compares with the reasons it has."""

_NEEDS_PAIRING = {0x05, 0x08, 0x0C, 0x0F}
"""GATT errors: authentication, authorization, key size, encryption (Core specification, volume 3, part F, 3.4.1.1)."""


class Doing(Enum):
    """What was being done when it failed."""

    SEARCH = "looking for it"
    CONNECT = "connecting"
    READ = "reading how its values are written"
    SUBSCRIBE = "asking for its readings"
    POLL = "reading its value"


def foreign_ble_exceptions() -> tuple[type[BaseException], ...]:
    """The exception classes that bleak, D-Bus and the system raise about Bluetooth.

    bleak asserts on answers from the bus and looks properties up without a net,
    so AssertionError, KeyError and AttributeError come out of it as well.
    """
    from bleak.exc import BleakError

    common: tuple[type[BaseException], ...] = (
        BleakError,
        OSError,
        EOFError,
        AssertionError,
        LookupError,
        AttributeError,
        ValueError,
        TypeError,
        RuntimeError,
        ImportError,
    )
    if sys.platform != "linux":
        return common
    from dbus_fast import errors

    # One by one: the older versions that bleak allows have no class above them all.
    found = [value for value in vars(errors).values() if isinstance(value, type)]
    return (*common, *(value for value in found if issubclass(value, Exception)))


def ble_failed(
    error: BaseException, who: str, address: str, doing: Doing, *, limit_s: float = 0.0
) -> TransportError:
    """What to tell when an instrument can't be reached.

    Args:
        error: one of :func:`foreign_ble_exceptions`.
        who: the instrument in words.
        address: as the user gave it.
        doing: what was under way.
        limit_s: how long it was given.
    """
    reason, text = _explain(error, who, doing, limit_s)
    return TransportError(text, reason=reason, address=address)


def ble_lost(who: str, address: str, packets: int) -> TransportError:
    """What to tell when a link breaks that was not closed by us."""
    return TransportError(
        f"Lost {who} after {packets} packets: check that it is on and within reach, and its battery.",
        reason=TransportReason.LINK_LOST,
        address=address,
    )


def ble_silent(who: str, address: str, silence_s: float) -> TransportError:
    """What to tell when nothing comes although the link counts as up."""
    return TransportError(
        f"No data from {who} for {silence_s:g} s, though it still counts as connected: the link is closed and "
        "opened anew. Check that it is awake and measuring.",
        reason=TransportReason.LINK_LOST,
        address=address,
    )


def _explain(error: BaseException, who: str, doing: Doing, limit_s: float) -> _Told:
    match type(error).__name__:
        case "BleakBluetoothNotAvailableError":
            reason = getattr(error, "reason", None)
            return UNAVAILABLE.get(getattr(reason, "name", ""), UNAVAILABLE["UNKNOWN"])
        case "BleakDeviceNotFoundError":
            return _not_seen(who)
        case "BleakCharacteristicNotFoundError":
            return TransportReason.OTHER, f"{who} no longer offers what the card asks for. Connect once more."
        case "BleakGATTProtocolError":
            return _refused_by_device(error, who, doing)
        case "BleakDBusError":
            return _from_bus(_words(error, 0), _words(error, 1), who, doing)
        case "BleakError":
            return _from_bleak(str(error), who, doing)
        case "DBusError":
            return _from_bus(str(getattr(error, "type", "")), str(error), who, doing)
        case "AuthError" | "AuthTimeoutError":
            return _BUS_REFUSED
    return _from_system(error, who, doing, limit_s)


def _from_bus(name: str, details: str, who: str, doing: Doing) -> _Told:
    short = name.rsplit(".", 1)[-1]
    match short:
        case "ServiceUnknown" | "NameHasNoOwner" | "NoReply" | "Disconnected":
            return _NOT_RUNNING
        case "AccessDenied":
            return _NOT_ALLOWED
        case "UnknownObject" | "DoesNotExist":
            return _not_seen(who)
        case "NotReady":
            return UNAVAILABLE["POWERED_OFF"]
        case "AuthenticationFailed" | "AuthenticationRejected" | "AuthenticationCanceled" | "NotAuthorized":
            return _pair_first(who)
    if name.startswith("org.freedesktop.DBus.Error.Spawn"):
        return _NOT_RUNNING
    if details == "Not paired":
        return _pair_first(who)
    code = " ".join(details.split())[:80] or short or "no reason"
    reason = TransportReason.BUSY if short == "InProgress" else TransportReason.UNREACHABLE
    return (
        reason,
        f"{who} failed while {doing.value} (BlueZ said: {code}). Switch it off and on, and go nearer.",
    )


def _from_bleak(text: str, who: str, doing: Doing) -> _Told:
    if text.startswith("Bleak requires BlueZ"):
        return _OLD_BLUEZ
    if text.startswith("adapter ") and text.endswith("not found"):
        name = text.split("'")[1] if text.count("'") >= 2 else "the card's"
        return (
            TransportReason.UNAVAILABLE,
            f"Bluetooth adapter {name} not found. Plug it in, or correct `adapter` in the card.",
        )
    if text.startswith("device ") and text.endswith("not found"):
        return _not_seen(who)
    if "device disconnected" in text or text.startswith(("Not connected", "Service Discovery")):
        return (
            TransportReason.UNREACHABLE,
            f"{who} connected but dropped the link at once. Go nearer and try again.",
        )
    detail = f" ({' '.join(text.split())[:120]})" if text else ""
    return (
        TransportReason.OTHER,
        f"{who} failed while {doing.value}{detail}. Switch Bluetooth off and on, then try again.",
    )


def _from_system(error: BaseException, who: str, doing: Doing, limit_s: float) -> _Told:
    if isinstance(error, TimeoutError):
        within = f" within {limit_s:g} s" if limit_s else " in time"
        if doing is Doing.SEARCH:
            return (
                TransportReason.UNAVAILABLE,
                f"The Bluetooth service did not answer{within}. Start it anew.",
            )
        return (
            TransportReason.UNREACHABLE,
            f"{who} was seen but did not finish {doing.value}{within}. Go nearer, or switch it off and on.",
        )
    if isinstance(error, FileNotFoundError):
        return _NO_BUS
    if isinstance(error, PermissionError):
        return _NOT_ALLOWED
    if isinstance(error, ImportError | NotImplementedError):
        return _NOT_HERE
    if isinstance(error, OSError | EOFError) or type(error).__module__.startswith("dbus_fast"):
        return _BUS_SILENT
    return (
        TransportReason.OTHER,
        f"{who} failed while {doing.value} ({type(error).__name__}). Switch Bluetooth off and on, then try again.",
    )


def _not_seen(who: str) -> _Told:
    return (
        TransportReason.NOT_FOUND,
        f"{who} is not to be seen any more. Is it on, near, and not connected to a phone?",
    )


def _pair_first(who: str) -> _Told:
    return (
        TransportReason.NOT_PERMITTED,
        f"{who} wants to be paired first: pair it in the system's Bluetooth settings, then try again.",
    )


def _refused_by_device(error: BaseException, who: str, doing: Doing) -> _Told:
    first = error.args[0] if error.args else None
    code = int(first) if isinstance(first, int) else 0
    if code in _NEEDS_PAIRING:
        return _pair_first(who)
    return (
        TransportReason.OTHER,
        f"{who} refused {doing.value} (GATT error 0x{code:02X}). Switch it off and on; "
        "perhaps the card is for another instrument.",
    )


def _words(error: BaseException, n: int) -> str:
    return str(error.args[n]) if len(error.args) > n else ""
