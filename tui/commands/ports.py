"""``spinvolt ports``: what is in reach, and which card understands what a port sends."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.finding import Found, Listened

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute", "free_ports"]

NAME = "ports"
HELP = "list serial ports and Bluetooth LE devices, and the cards that could fit"
DESCRIPTION = (
    "Lists the serial ports of this computer and the Bluetooth LE devices in reach, each with the instrument cards "
    "that could fit. Nothing is opened and nothing is sent. With --listen a port is opened at the usual speeds, and "
    "the cards that understand what comes are told, with how well. Nothing is sent then either, unless no card "
    "understands what comes and a card is for an instrument that must be asked: then such cards ask it, one after "
    "another. Opening a port may restart a board that is wired that way. A port that another program has is left alone."
)
_ALL = ""


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of words")
    parser.add_argument(
        "--listen",
        nargs="?",
        const=_ALL,
        action="append",
        metavar="PORT",
        help="listen at this port or address (again for each further one); without PORT, at every serial port that "
        "is free. It may ask the instrument, see above",
    )
    parser.add_argument(
        "--card",
        action="append",
        default=[],
        metavar="CARD",
        help="listen with this card only, a name or a .toml file; give it again for each further one",
    )
    parser.add_argument(
        "--seconds",
        type=_seconds,
        metavar="S",
        help="how long to look for Bluetooth LE devices (4 if not given; 0: serial ports only), "
        "or to listen at each speed (3; a port takes at most 15 times as long)",
    )


def execute(arguments: argparse.Namespace) -> int:
    """List what is in reach, or listen."""
    from daq.errors import UsageError

    if arguments.card and not arguments.listen:
        raise UsageError("--card is for listening: add --listen PORT.")
    if arguments.listen is None:
        return _look(arguments)
    if arguments.seconds == 0:
        raise UsageError("--seconds 0 leaves no time to listen: give a time above 0.")
    return _listen(arguments)


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = -1.0
    if not 0 <= seconds <= 60:
        raise argparse.ArgumentTypeError(f"{text!r} must be a number of seconds from 0 to 60")
    return seconds


def _look(arguments: argparse.Namespace) -> int:
    from daq.finding import DEFAULT_LOOK_S, find
    from tui.portstext import found_lines

    seconds = DEFAULT_LOOK_S if arguments.seconds is None else arguments.seconds
    found = find(seconds)
    if arguments.json:
        _print_json(found, [])
    else:
        for line in found_lines(found, looked_for_ble=seconds > 0):
            print(line)
    return 0


def _listen(arguments: argparse.Namespace) -> int:
    from daq.finding import DEFAULT_LISTEN_S, listen
    from tui.portstext import listened_lines

    seconds = arguments.seconds or DEFAULT_LISTEN_S
    results: list[Listened] = []
    for address in _addresses(arguments.listen):
        result = listen(address, arguments.card, seconds, on_progress=None if arguments.json else _say)
        results.append(result)
        if not arguments.json:
            for line in listened_lines(result):
                print(line)
    if arguments.json:
        _print_json(None, results)
    return 1 if results and all(result.trouble for result in results) else 0


def _addresses(given: list[str]) -> list[str]:
    """Those asked for; where one was left out, the serial ports that are free in its place."""
    from daq.finding import find

    named = [address for address in given if address != _ALL]
    return list(dict.fromkeys(named + (free_ports(find(0)) if _ALL in given else [])))


def free_ports(found: Found) -> list[str]:
    """The serial ports that no program has.

    Raises:
        SpinvoltError: there is none.
    """
    from daq.errors import SpinvoltError

    ports = [one for one in found.instruments if not one.address.startswith("ble:")]
    free = [one.address for one in ports if not one.in_use_by]
    if free:
        return free
    if not ports:
        raise SpinvoltError(
            "This computer has no serial port at the moment: plug in the adapter and look again."
        )
    taken = ", ".join(f"{one.address} is in use by {one.in_use_by}" for one in ports)
    raise SpinvoltError(f"There is no free serial port to listen to: {taken}.")


def _say(text: str) -> None:
    from tui.text import clean

    print(clean(text), file=sys.stderr)


def _print_json(found: Found | None, listened: list[Listened]) -> None:
    import json

    import msgspec

    document: dict[str, object] = {}
    if found is not None:
        document["ports"] = msgspec.to_builtins(found.instruments)
        document["remarks"] = list(found.remarks)
    if listened:
        document["listened"] = [_without_tag(msgspec.to_builtins(one)) for one in listened]
    print(json.dumps(document, indent=2))


def _without_tag(table: dict[str, object]) -> dict[str, object]:
    return {key: value for key, value in table.items() if key != "type"}
