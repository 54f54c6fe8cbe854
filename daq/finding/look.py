"""Looking around: every driver is asked what it finds, and what several found is told once."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence

import msgspec

from daq.catalog import BUILT_IN, Catalog
from daq.driver_api import Driver, FoundInstrument
from daq.errors import SpinvoltError
from daq.finding.entries import Found

__all__ = ["look_around"]

_SLACK_S = 10.0


async def look_around(catalog: Catalog, seconds: float) -> Found:
    """Ask all drivers at once; what hinders one becomes a remark.

    Args:
        catalog: cards and drivers.
        seconds: how long those may look that have to wait for something.
    """
    drivers = list(catalog.registry.drivers.values())
    results = await asyncio.gather(*(_ask(driver, catalog, seconds) for driver in drivers))
    remarks = [result for result in results if isinstance(result, str)]
    found = [result for result in results if not isinstance(result, str)]
    broken = [f"Driver {b.name} can't be loaded: {b.reason}." for b in catalog.registry.broken]
    return Found(_merged(one for many in found for one in many), tuple(dict.fromkeys(remarks + broken)))


async def _ask(driver: Driver, catalog: Catalog, seconds: float) -> Sequence[FoundInstrument] | str:
    try:
        async with asyncio.timeout(seconds + _SLACK_S):
            found = await driver.discover(seconds)
        return [_with_own_cards(driver, catalog, one) for one in found]
    except SpinvoltError as error:
        return str(error)
    except TimeoutError:
        return f"Driver {driver.name} did not end its search within {seconds + _SLACK_S:g} s."
    except Exception as error:  # noqa: BLE001 - a named border: a driver from elsewhere may fail in any way
        return f"Driver {driver.name} failed while it looked around: {type(error).__name__}: {error}."


def _with_own_cards(driver: Driver, catalog: Catalog, found: FoundInstrument) -> FoundInstrument:
    """The user's own cards first: who wrote one has such an instrument."""
    own = [
        entry.card.name
        for entry in catalog.instruments.values()
        if entry.origin != BUILT_IN and entry.card.protocol == driver.name and driver.fits(entry.card, found)
    ]
    return msgspec.structs.replace(found, cards=tuple(dict.fromkeys([*own, *found.cards])))


def _merged(found: Iterable[FoundInstrument]) -> tuple[FoundInstrument, ...]:
    """One entry an address; what several drivers say of it is put together."""
    merged: dict[str, FoundInstrument] = {}
    for one in found:
        seen = merged.get(one.address)
        merged[one.address] = one if seen is None else _both(seen, one)
    return tuple(sorted(merged.values(), key=_order))


def _order(found: FoundInstrument) -> tuple[bool, float]:
    """What hangs on a cable first, as it was found; then the strongest signal."""
    by_radio = found.signal_dbm is not None or found.address.startswith("ble:")
    return by_radio, -float(found.signal_dbm if found.signal_dbm is not None else -128)


def _both(one: FoundInstrument, other: FoundInstrument) -> FoundInstrument:
    return FoundInstrument(
        address=one.address,
        name=one.name or other.name,
        details=tuple(dict.fromkeys([*one.details, *other.details])),
        signal_dbm=other.signal_dbm if one.signal_dbm is None else one.signal_dbm,
        cards=tuple(dict.fromkeys([*one.cards, *other.cards])),
        in_use_by=one.in_use_by or other.in_use_by,
    )
