"""At which line settings to listen, in which order. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import msgspec

from daq.cards.instrument import TransportDefaults

__all__ = ["lines_to_try", "of_one_supply"]

_USUAL = (
    TransportDefaults(baud=9600),
    TransportDefaults(baud=115_200),
    TransportDefaults(baud=4800),
    TransportDefaults(baud=19_200),
    TransportDefaults(baud=2400),
    TransportDefaults(baud=38_400),
    TransportDefaults(baud=57_600),
    TransportDefaults(baud=1200),
    TransportDefaults(baud=9600, bytesize=7, parity="even"),
    TransportDefaults(baud=2400, bytesize=7, parity="odd"),
)
"""What bench and hand instruments are set to (common practice, no source)."""


def lines_to_try(address: str, lines: Sequence[TransportDefaults]) -> list[TransportDefaults]:
    """The cards' own settings, those of most cards first, then the usual ones.

    Args:
        address: a network address has no speed of its own, so one try is enough there.
        lines: of each card that is listened for, with repeats.
    """
    wanted = [line for line, _ in Counter(lines).most_common()]
    if "://" in address and not address.startswith("rfc2217:"):
        return wanted[:1] or [TransportDefaults()]
    return list(dict.fromkeys([*wanted, *_USUAL]))


def of_one_supply(line: TransportDefaults) -> TransportDefaults:
    """What makes an instrument talk or not: the levels that may feed it. A wrong speed gives junk, not silence."""
    return msgspec.structs.replace(TransportDefaults(), dtr=line.dtr, rts=line.rts)
