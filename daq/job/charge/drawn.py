"""What the loads draw: all of them together, and on the average of a working day."""

from __future__ import annotations

from dataclasses import dataclass

from daq.job.judging.given import Given, Measured

__all__ = ["NOT_LISTED", "UNLISTED", "Drawn", "drawn_by_loads"]

UNLISTED = "loads not on the card"
"""Name of what is drawn beyond the card's list."""

_CARD_LIMIT = 0.1
"""Limit of error of the card's amps, where they were not measured (common practice, no source)."""


@dataclass(frozen=True)
class Drawn:
    """Amps into the loads."""

    all_on: Measured
    mean: Measured
    """With each load on for its share of the time."""
    measured: bool
    by_load: tuple[tuple[str, float], ...]
    """Mean amps of each load, scaled so that they add up to what is drawn."""

    @property
    def u_spared(self) -> float:
        """Doubt of the amps that are off some of the time: those that are always on are in every reading."""
        if self.all_on.value <= 0.0:
            return 0.0
        return self.all_on.u * (1.0 - self.mean.value / self.all_on.value)


NOT_LISTED = Drawn(Measured(0.0, 0.0), Measured(0.0, 0.0), False, ())
"""Loads of which nothing is known."""


def drawn_by_loads(given: Given) -> Drawn | None:
    """From the measured amps, shared among the card's loads; from the card alone where nothing was measured.

    None where neither is known.
    """
    listed, load = given.loads_a, given.value("load_current")
    if load is not None:
        all_on = Measured(abs(load.value), load.u)
    elif listed is not None:
        all_on = Measured(listed, _CARD_LIMIT * listed / 3.0**0.5)
    else:
        return None
    loads = given.machine.load
    # Where more is drawn than is listed, the rest belongs to nobody and is on all the time.
    known = sum(each.current_a for each in loads)
    scale = min(1.0, all_on.value / known) if known > 0.0 else 0.0
    by_load = [(each.name, each.mean_current_a * scale) for each in loads]
    unlisted = all_on.value - known * scale
    if unlisted > 0.05 * all_on.value or not loads:
        by_load.append((UNLISTED, unlisted))
    else:
        unlisted = 0.0
    mean = sum(current for _, current in by_load)
    share = mean / all_on.value if all_on.value > 0.0 else 1.0
    return Drawn(all_on, Measured(mean, all_on.u * share), load is not None, tuple(by_load))
