"""The keys of the connect screen."""

from __future__ import annotations

from textual.binding import Binding, BindingType

__all__ = ["CONNECT_KEYS"]

CONNECT_KEYS: list[BindingType] = [
    Binding(
        "enter",
        "next",
        "next",
        key_display="enter",
        id="connect.next",
        tooltip="Listen, take, or go on with what was taken",
    ),
    Binding("g", "start", "go on", id="connect.start", tooltip="Go on with the instruments that were taken"),
    Binding("x", "drop", "drop", id="connect.drop", tooltip="Don't take this one after all"),
    Binding(
        "a",
        "address",
        "address",
        id="connect.address",
        tooltip="Type an address, such as one on a network",
    ),
    Binding("m", "machine", "machine", id="connect.machine", tooltip="Name the machine card"),
    Binding("n", "listen", "listen", show=False, id="connect.listen", tooltip="Listen to this one again"),
    Binding("left", "card(-1)", "card before", show=False, id="connect.before", tooltip="The card before"),
    Binding(
        "right",
        "card(1)",
        "next card",
        key_display="right",
        id="connect.card",
        tooltip="The next card that understood it",
    ),
    Binding("up", "move(-1)", "up", show=False, id="connect.up", tooltip="The row above"),
    Binding("down", "move(1)", "down", show=False, id="connect.down", tooltip="The row below"),
    Binding("home", "move(-1000000)", "first", show=False, id="connect.home", tooltip="The first row"),
    Binding("end", "move(1000000)", "last", show=False, id="connect.end", tooltip="The last row"),
    Binding("pagedown", "read(1)", "read on", show=False, id="connect.more", tooltip="Read on below"),
    Binding("pageup", "read(-1)", "read back", show=False, id="connect.back", tooltip="Read again above"),
]
