"""What is told where an address or a machine is asked for."""

from __future__ import annotations

from collections.abc import Mapping

from tui.text import clean
from tui.view.job_state import Section, Sentence

__all__ = ["ADDRESS_HELP", "machine_help"]

ADDRESS_HELP = Section(
    "An address",
    (
        Sentence("A serial port: /dev/ttyUSB0, COM3"),
        Sentence("A serial line behind a network adapter: socket://192.168.1.20:7000, rfc2217://..."),
        Sentence("A Bluetooth LE device: ble:AA:BB:CC:DD:EE:FF"),
    ),
)


def machine_help(titles: Mapping[str, str]) -> Section:
    """The machine cards there are.

    Args:
        titles: by the card's name.
    """
    cards = tuple(Sentence(f"{clean(name)}: {clean(title)}") for name, title in sorted(titles.items()))
    return Section("The machine under test: the name of a card, or a file", cards)
