"""What was found and heard, as lines for a person."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from daq.finding import line_words
from daq.model.counted import counted
from tui.text import clean

if TYPE_CHECKING:
    from daq.finding import Found, FoundInstrument, Heard, Listened

__all__ = ["found_lines", "listened_lines"]

_MOST_HEARD = 6
_ASKED = "asked with "


def found_lines(found: Found, *, looked_for_ble: bool) -> Iterator[str]:
    """The list of ``spinvolt ports``."""
    ports = [one for one in found.instruments if not one.address.startswith("ble:")]
    radio = [one for one in found.instruments if one.address.startswith("ble:")]
    yield "Serial ports:" if ports else "Serial ports: none. Plug in the adapter and look again."
    for one in ports:
        yield from _instrument(one)
    if radio:
        yield "Bluetooth LE devices:"
        for one in radio:
            yield from _instrument(one)
    elif looked_for_ble and not found.remarks:
        yield "Bluetooth LE devices: none in reach. Is the instrument on, near, and not connected to a phone?"
    for remark in found.remarks:
        yield clean(remark, 1000)
    if ports:
        yield "Which card fits a port, its bytes tell: spinvolt ports --listen PORT"


def _instrument(one: FoundInstrument) -> Iterator[str]:
    name = f"  {clean(one.name)}" if one.name else ""
    signal = "" if one.signal_dbm is None else f"  {one.signal_dbm} dBm"
    yield f"  {clean(one.address)}{name}{signal}"
    if one.details:
        yield f"    {clean(', '.join(one.details))}"
    if one.in_use_by:
        yield f"    in use by {clean(one.in_use_by)}"
    yield f"    cards that could fit: {clean(', '.join(one.cards), 400) if one.cards else 'none known'}"


def listened_lines(result: Listened) -> Iterator[str]:
    """What was heard at one address, the best card first."""
    if result.trouble:
        yield clean(result.trouble, 1000)
    heard = result.heard
    if heard:
        yield f"{clean(result.address)}: understood by"
        for one in heard[:_MOST_HEARD]:
            yield from _heard(one)
        yield from _advice(result.address, heard)
        return
    total = sum(one.bytes_received for one in result.tried)
    if result.trouble:
        return
    if not total:
        cards = [tried.line.removeprefix(_ASKED) for tried in result.tried if tried.line.startswith(_ASKED)]
        asked = f", also not when it was asked with {' and '.join(cards)}" if cards else ""
        yield (
            f"{clean(result.address)}: nothing came{clean(asked)}. Check that the instrument is on, "
            "that its data output is switched on, and the cable."
        )
        return
    yield f"{clean(result.address)}: {counted(total, 'byte')} came, but no card understands them."
    for tried in result.tried:
        shown = f", the last: {clean(tried.sample, 300)}" if tried.sample else ""
        yield f"  {clean(tried.line, 400)}: {counted(tried.bytes_received, 'byte')}{shown}"
    yield "A card of your own can describe them: `spinvolt cards text-pair` and `spinvolt cards frame-speed` show how."


def _heard(one: Heard) -> Iterator[str]:
    what = "of the answers" if one.asked else "of the bytes"
    rate = f", {one.readings_per_s:.3g} a second" if one.readings_per_s else ""
    values = ", ".join(f"{example.value:g} {example.unit}" for example in one.examples)
    shown = f", now {values}" if values else ""
    readings = counted(one.readings, "reading")
    yield f"  {clean(one.card):<18}{100 * one.share:3.0f} % {what}, {readings}{rate}{shown}"
    if not one.line_of_card:
        yield f"{'':<20}at {line_words(one.line)}: that belongs into [transport] of a copy of the card"
    for remark in one.remarks:
        yield f"{'':<20}but {clean(remark)}"


def _advice(address: str, heard: tuple[Heard, ...]) -> Iterator[str]:
    good = [one for one in heard if one.is_good]
    if not good:
        yield "None fits well: look at the settings of the instrument, and at what each card is for."
        return
    quantities = {tuple(example.quantity for example in one.examples) for one in good}
    if len(quantities) > 1:
        yield (
            "Bare numbers fit several cards and don't tell what they measure: take the card for what the "
            "instrument shows."
        )
    yield f"To record: spinvolt run -i {clean(good[0].card)}@{clean(address)}"
