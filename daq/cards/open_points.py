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
