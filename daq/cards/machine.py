"""Machine cards: the machine under test, as its service manual gives it.

The built-in cards are classes of alternator, not brands. Each of their values
names its source or is marked "common practice, no source".
"""

from __future__ import annotations

import msgspec

from daq.cards.faults import card_fault_words
from daq.cards.machine_parts import AlternatorClass, BatteryCard, DutyCard, LoadCard, within
from daq.cards.tomltext import TomlError, parse_toml
from daq.errors import CardError

__all__ = ["MachineCard", "parse_machine_card"]


class MachineCard(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The machine under test. What the manual does not give stays open (None)."""

    name: str
    title: str
    rated_speed_rpm: float
    """Speed at which the manual states the alternator's output."""
    speed_tolerance_rpm: float = 100.0
    """Half width of the window around rated speed in which a reading counts as taken at rated speed."""
    minimum_ac_voltage_v: float | None = None
    """Least AC volts, unloaded, at rated speed."""
    pole_pairs: int | None = None
    alternator: AlternatorClass | None = None
    idle_speed_rpm: float | None = None
    charging_voltage_v: tuple[float, float] | None = None
    """Least and most DC volts at the battery while it is charged and nearly full."""
    charging_current_a: tuple[float, float] | None = None
    """Least and most DC amps of the alternator at rated test speed, into a battery that takes them."""
    winding_resistance_ohm: tuple[float, float] | None = None
    """Least and most resistance between the stator's leads, at 20 °C."""
    battery: BatteryCard | None = None
    load: tuple[LoadCard, ...] = ()
    duty: DutyCard | None = None
    sources: dict[str, str] = {}
    """Where each value comes from, by key."""
    notes: str = ""

    def __post_init__(self) -> None:
        within("rated_speed_rpm", self.rated_speed_rpm, 100, 30_000, "rpm")
        within("speed_tolerance_rpm", self.speed_tolerance_rpm, 1, 0.2 * self.rated_speed_rpm, "rpm")
        within("minimum_ac_voltage_v", self.minimum_ac_voltage_v, 0.1, 1000, "V")
        within("pole_pairs", self.pole_pairs, 1, 60, "")
        within("idle_speed_rpm", self.idle_speed_rpm, 50, self.rated_speed_rpm, "rpm")
        _range("charging_voltage_v", self.charging_voltage_v, 1, 100, "V")
        _range("charging_current_a", self.charging_current_a, 0, 1000, "A")
        _range("winding_resistance_ohm", self.winding_resistance_ohm, 0, 10_000, "ohm")
        names = [load.name for load in self.load]
        if len(set(names)) < len(names) or len(names) > 64:
            raise ValueError("[[load]]: up to 64 loads, each with a name of its own")

    @property
    def work_speed_rpm(self) -> float:
        """Speed at work: the duty's, or the rated test speed."""
        given = self.duty.work_speed_rpm if self.duty is not None else None
        return self.rated_speed_rpm if given is None else given


def _range(key: str, value: tuple[float, float] | None, low: float, high: float, unit: str) -> None:
    if value is None:
        return
    for end in value:
        within(key, end, low, high, unit)
    if value[0] > value[1]:
        raise ValueError(f"{key} = [{value[0]:g}, {value[1]:g}] must rise: the least first, then the most")


def parse_machine_card(text: str, *, origin: str) -> MachineCard:
    """Read a machine card from TOML text.

    Args:
        text: the TOML.
        origin: the file's name, for the error's sentence.

    Raises:
        CardError: with the file, the key and what would be accepted.
    """
    try:
        return msgspec.convert(parse_toml(text), MachineCard)
    except TomlError as error:
        raise CardError(f"Machine card {origin} {error}.") from error
    except msgspec.ValidationError as error:
        words = card_fault_words(error, MachineCard)
        good = "`spinvolt cards class-10a-regulated-ac` prints a good one"
        raise CardError(f"Machine card {origin}: {words}. {good}.") from error
