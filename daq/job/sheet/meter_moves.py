"""Where the one meter's dial and plugs go next, from one reading to the next, in plain words."""

from __future__ import annotations

from daq.job.sheet.steps import EngineState, Slot
from daq.model.quantity import Quantity

__all__ = ["DIAL", "engine_words", "meter_move"]

DIAL: dict[Quantity, str] = {
    Quantity.AC_VOLTAGE: "AC volts",
    Quantity.DC_VOLTAGE: "DC volts",
    Quantity.DC_CURRENT: "DC amps",
    Quantity.RESISTANCE: "ohms",
    Quantity.FREQUENCY: "hertz",
}
"""The dial's positions; what is not here is not read with the meter."""

_ENGINE: dict[EngineState, str] = {
    "stopped": "Engine stopped.",
    "idle": "Engine at idle.",
    "test_speed": "Engine at its test speed.",
}


def engine_words(state: EngineState) -> str:
    """What the engine does during a reading."""
    return _ENGINE[state]


def meter_move(before: Slot | None, after: Slot) -> tuple[str, ...]:
    """What to do with meter and leads to come from one reading to the next; sentences, in order.

    Args:
        before: the reading just taken; None where that isn't known, and then all is said.
        after: the reading to take.
    """
    said = []
    dial = _dial(after)
    dial_before = _dial(before) if before is not None else None
    leaves_amps = before is not None and before.quantity is Quantity.DC_CURRENT
    if leaves_amps and (dial != dial_before or before is None or before.place != after.place):
        said.append("Stop the engine and take the meter out of the circuit; close the circuit again.")
    if dial is not None and dial != dial_before:
        said += _turn(dial, plug_back=leaves_amps or before is None)
    if before is None or (before.place, before.leads) != (after.place, after.leads):
        said.append(f"Leads: {after.leads}.")
    said.append(_ENGINE[after.engine])
    return tuple(said)


def _dial(slot: Slot) -> str | None:
    return DIAL[Quantity.RESISTANCE] if slot.quantity is None else DIAL.get(slot.quantity)


def _turn(dial: str, *, plug_back: bool) -> list[str]:
    said = [f"Turn the dial to {dial}."]
    if dial == DIAL[Quantity.DC_CURRENT]:
        said.append("Put the red plug into the amps jack, the largest range first.")
    elif plug_back:
        said.append(
            "The red plug belongs in the volts and ohms jack: in the amps jack it is a short circuit."
        )
    return said
