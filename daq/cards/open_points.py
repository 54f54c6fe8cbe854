"""What a machine card leaves open, and which judgement can't be made without it."""

from __future__ import annotations

from daq.cards.machine import MachineCard

__all__ = ["COMMON_PRACTICE", "open_points", "source_of"]

COMMON_PRACTICE = "common practice, no source"

_NEEDED_FOR = {
    "alternator": "which tests apply (`spinvolt machine which` helps to find out)",
    "minimum_ac_voltage_v": "the judgement of the AC output",
    "idle_speed_rpm": "the charge budget at idle",
    "charging_voltage_v": "the judgement of the charging volts",
    "charging_current_a": "the judgement of the charging amps",
    "winding_resistance_ohm": "the judgement of the winding's resistance",
    "battery": "the state of the battery",
    "battery.capacity_ah": "the hours to full or flat",
    "battery.chemistry": "the battery's rest volts and its hours to flat",
    "load": "whether it can carry its loads",
    "duty.idle_share": "the charge budget over a working day",
    "pole_pairs": "the check of the frequency against the tach",
}
_NO_TABLES = (
    "The battery is no lead-acid one, and the tables here are for those: its charge at rest, how far it may give way "
    "under load, and the hours to full or flat are not judged. Its maker's data say those, and whether this alternator "
    "may charge it at all."
)
_NO_RANGE = (
    "Put the charging volts of the battery's maker into the card: no usual ones are taken for this kind."
)
_CHARGING_ONLY = frozenset(
    {
        "charging_voltage_v",
        "charging_current_a",
        "battery",
        "battery.capacity_ah",
        "battery.chemistry",
        "duty.idle_share",
    }
)


def open_points(card: MachineCard) -> tuple[str, ...]:
    """A sentence for each value that is open and would be needed."""
    skips = card.alternator is not None and not card.alternator.charges
    said = []
    for key, purpose in _NEEDED_FOR.items():
        if (skips and key in _CHARGING_ONLY) or not _is_open(card, key):
            continue
        said.append(f"{key} is open: {purpose} has to do without it.")
    if not skips and card.battery is not None and not card.battery.lead_acid:
        said.append(_NO_TABLES)
        if card.charging_voltage_v is None:
            said.append(_NO_RANGE)
    return tuple(said)


def _is_open(card: MachineCard, key: str) -> bool:
    head, _, tail = key.partition(".")
    value = getattr(card, head)
    if tail:
        return head == "duty" if value is None else getattr(value, tail) is None
    return value is None or value == ()


def source_of(card: MachineCard, key: str) -> str:
    """Where a value of the card comes from, in words for the end of a sentence."""
    return card.sources.get(key, "the machine card, which names no source")
