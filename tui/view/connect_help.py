"""What is told where an address or a machine is asked for."""

from __future__ import annotations

from collections.abc import Mapping

from tui.text import clean
from tui.view.job_state import Section, Sentence

__all__ = ["ADDRESS_HELP", "CONNECT_EXPLAINS", "machine_help"]

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


CONNECT_EXPLAINS = (
    "Each row is a place where an instrument may be: serial ports and Bluetooth LE devices as they come and go, "
    "what was used last time, and the keyboard.",
    "Enter opens the chosen one, listens and shows a reading with its unit, and goes on reading it while its "
    "row is the chosen one; nothing else is ever opened. "
    "Enter again takes it; Enter on one that is taken goes on with all that are.",
    "Where several cards understand what comes, the arrows left and right go through them. Compare the reading "
    "with the instrument's own display before you take it. {good}\u00a0understood  {doubt}\u00a0in part  "
    "{bad}\u00a0not, or no way in",
    "A card of your own lies in the configuration folder, which `spinvolt cards` names.",
)
"""Paragraphs of ``?``."""
