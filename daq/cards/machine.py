"""Machine cards: the machine under test, as its service manual gives it.

The built-in cards are classes of alternator, not brands. Each of their values
names its source or is marked "common practice, no source".
"""

from __future__ import annotations

import tomllib

import msgspec

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
    sources: dict[str, str] = {}
    """Where each value comes from, by key."""
    notes: str = ""

    def __post_init__(self) -> None:
        _within("rated_speed_rpm", self.rated_speed_rpm, 100, 30_000, "rpm")
        _within("speed_tolerance_rpm", self.speed_tolerance_rpm, 1, 0.2 * self.rated_speed_rpm, "rpm")
        _within("minimum_ac_voltage_v", self.minimum_ac_voltage_v, 0.1, 1000, "V")
        _within("pole_pairs", self.pole_pairs, 1, 60, "")


def _within(key: str, value: float | None, low: float, high: float, unit: str) -> None:
    if value is not None and not low <= value <= high:
        raise ValueError(f"{key} = {value:g} must be from {low:g} to {high:g} {unit}".rstrip())


def parse_machine_card(text: str, *, origin: str) -> MachineCard:
    """Read a machine card from TOML text.

    Args:
        text: the TOML.
        origin: the file's name, for the error's sentence.

    Raises:
        CardError: with the file, the key and what would be accepted.
    """
    try:
        return msgspec.convert(tomllib.loads(text), MachineCard)
    except tomllib.TOMLDecodeError as error:
        raise CardError(f"Machine card {origin} is not valid TOML: {error}.") from error
    except msgspec.ValidationError as error:
        raise CardError(
            f"Machine card {origin}: {error}. `spinvolt cards class-10a-regulated-ac` prints a good one."
        ) from error
