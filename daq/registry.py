"""Finds the drivers that are installed, ours and other people's.

A plugin that can't be loaded is listed with its reason and never fatal.
"""

from __future__ import annotations

from collections.abc import Iterable
from importlib.metadata import EntryPoint, entry_points

import msgspec

from daq.driver_api import DRIVER_API_VERSION, Driver
from daq.errors import DriverError

__all__ = ["GROUP", "BrokenDriver", "Registry", "load_registry"]

GROUP = "spinvolt.drivers"


class BrokenDriver(msgspec.Struct, frozen=True):
    """A plugin that could not be loaded."""

    name: str
    origin: str
    """What the entry point names."""
    reason: str


class Registry(msgspec.Struct, frozen=True):
    """The drivers found."""

    drivers: dict[str, Driver]
    broken: tuple[BrokenDriver, ...]

    def driver(self, protocol: str) -> Driver:
        """The driver of a protocol.

        Raises:
            DriverError: none is installed, or its plugin is broken; says which.
        """
        found = self.drivers.get(protocol)
        if found is not None:
            return found
        for broken in self.broken:
            if broken.name == protocol:
                raise DriverError(f"The driver for protocol {protocol!r} can't be loaded: {broken.reason}.")
        known = ", ".join(sorted(self.drivers)) or "none"
        raise DriverError(f"No driver is installed for protocol {protocol!r}; installed: {known}.")


def load_registry(found: Iterable[EntryPoint] | None = None) -> Registry:
    """Load every plugin of the group; ``found`` is for tests."""
    drivers: dict[str, Driver] = {}
    broken: list[BrokenDriver] = []
    points = entry_points(group=GROUP) if found is None else found
    for point in sorted(points, key=lambda p: p.name):
        try:
            driver = point.load()
        except Exception as error:  # noqa: BLE001 - a named border: someone else's code may fail in any way
            broken.append(BrokenDriver(point.name, point.value, f"{type(error).__name__}: {error}"))
            continue
        problem = _misfit(driver, point.name, drivers)
        if problem is None:
            drivers[point.name] = driver
        else:
            broken.append(BrokenDriver(point.name, point.value, problem))
    return Registry(drivers, tuple(broken))


def _misfit(driver: object, name: str, taken: dict[str, Driver]) -> str | None:
    if not isinstance(driver, Driver):
        return f"it names something of type {type(driver).__name__}, which is no Driver"
    if driver.api_version > DRIVER_API_VERSION:
        return (
            f"it was written for driver contract {driver.api_version}, this spinvolt has {DRIVER_API_VERSION}"
        )
    if name in taken:
        return f"protocol {name!r} is already spoken by another plugin"
    if driver.name != name:
        return f"it calls itself {driver.name!r} but its entry point says {name!r}"
    return None
