"""The kinds of alternator that the bench has, by how their output is brought out."""

from __future__ import annotations

from dataclasses import dataclass

from .build import Build
from .faults import FAULTS

__all__ = ["KINDS", "Kind", "build_of", "faults_of", "kind_named"]


@dataclass(frozen=True)
class Kind:
    """What belongs to a kind of alternator."""

    name: str
    grounded: bool
    """One end of the winding is on the core on purpose, so that one lead comes out."""
    half_wave: bool
    """One diode in the lead lets through every other half wave."""
    regulator: bool
    """Something holds the battery's volts back."""
    charges: bool
    lacks: frozenset[str]
    """Faults that can't be on it."""


_NO_GROUND_FAULT = "grounded_stator"
"""A winding that is grounded on purpose has no fault of that name."""

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("regulated", grounded=False, half_wave=False, regulator=True, charges=True, lacks=frozenset()),
        # a diode in a sleeve in the lead, and nothing else
        Kind(
            "dc_only",
            grounded=True,
            half_wave=True,
            regulator=False,
            charges=True,
            lacks=frozenset({_NO_GROUND_FAULT, "dead_regulator"}),
        ),
        # a charging winding with a half-wave regulator-rectifier, and another winding for the lamps
        Kind(
            "split",
            grounded=True,
            half_wave=True,
            regulator=True,
            charges=True,
            lacks=frozenset({_NO_GROUND_FAULT, "open_diode"}),
        ),
        # straight to the lamps, no battery
        Kind(
            "ac_only",
            grounded=True,
            half_wave=False,
            regulator=False,
            charges=False,
            lacks=frozenset(
                {
                    _NO_GROUND_FAULT,
                    "dead_regulator",
                    "open_diode",
                    "overloaded",
                    "bad_connector",
                    "blown_fuse",
                    "worn_battery",
                }
            ),
        ),
    )
}

_BUILDS: dict[str, Build] = {
    "regulated": Build(),
    "dc_only": Build(
        alternator="dc_only",
        resistance_ohm=0.55,
        inductance_h=0.0014,
        loads_a={"controller": 0.3, "marker_lamp": 1.1},
    ),
    "split": Build(
        alternator="split",
        resistance_ohm=0.4,
        inductance_h=0.0011,
        loads_a={"controller": 0.4, "seed_counter": 1.2},
        lamps_a=4.0,
    ),
    "ac_only": Build(
        alternator="ac_only",
        rated_v=17.0,
        resistance_ohm=0.35,
        inductance_h=0.0006,
        loads_a={},
        lamps_a=5.0,
    ),
}


def kind_named(name: str) -> Kind:
    """The kind of that name.

    Raises:
        ValueError: naming the kinds there are.
    """
    if name not in KINDS:
        raise ValueError(f"There is no alternator {name!r}; there are: {', '.join(KINDS)}.")
    return KINDS[name]


def build_of(name: str) -> Build:
    """A sound machine with an alternator of that kind, invented.

    Raises:
        ValueError: a kind that isn't there.
    """
    return _BUILDS[kind_named(name).name]


def faults_of(name: str) -> tuple[str, ...]:
    """What can be wrong with a kind, ``healthy`` first.

    Raises:
        ValueError: a kind that isn't there.
    """
    lacks = kind_named(name).lacks
    return tuple(fault for fault in FAULTS if fault not in lacks)
