"""Charging with everything connected: winding, bridge, regulator, battery and loads together."""

from __future__ import annotations

import math

from .alternator import Winding
from .battery import Battery
from .loads import Loads
from .rectifier import Bridge, Output, passed_share

__all__ = ["ChargingSystem"]

_SPEED_GRID_RPM = 100.0
_VOLTS_GRID_V = 0.5
_REGULATOR_LAG_S = 0.03


class ChargingSystem:
    """The whole circuit, averaged over the alternator's cycles.

    The cycles themselves are worked out on a grid of speeds and battery volts,
    once each, and read between grid points by straight lines.

    Attributes:
        connected: whether the stator is plugged into the regulator-rectifier.
        rectified_a: what comes out of the regulator-rectifier, averaged.
        battery_a: current into the battery (negative: out).
        load_a: current into the loads.
        battery_v: volts at the battery's posts.
        stator_v: volts between the stator's leads as connected, rms.
        stator_dc_v: their mean.
        ripple_v: AC part of the volts at the battery's posts, rms.
    """

    def __init__(
        self,
        winding: Winding,
        bridge: Bridge,
        battery: Battery,
        loads: Loads,
        *,
        ground_at_share: float | None = None,
    ) -> None:
        self.winding, self.bridge, self.battery, self.loads = winding, bridge, battery, loads
        self.connected = True
        self._ground_at_share = ground_at_share
        self._grid: dict[tuple[int, int], Output] = {}
        self._share = 1.0
        self.rectified_a = self.battery_a = self.load_a = self.stator_v = self.ripple_v = 0.0
        self.stator_dc_v = 0.0
        self.battery_v = battery.terminal_v(0.0)

    def full_output(self, speed_rpm: float, battery_emf_v: float) -> Output:
        """What the bridge delivers at a speed with every half wave let through."""
        x, y = speed_rpm / _SPEED_GRID_RPM, battery_emf_v / _VOLTS_GRID_V
        ix, iy = math.floor(x), math.floor(y)
        fx, fy = x - ix, y - iy
        corners = (
            (self._corner(ix, iy), (1.0 - fx) * (1.0 - fy)),
            (self._corner(ix + 1, iy), fx * (1.0 - fy)),
            (self._corner(ix, iy + 1), (1.0 - fx) * fy),
            (self._corner(ix + 1, iy + 1), fx * fy),
        )
        return Output(
            sum(out.mean_a * weight for out, weight in corners),
            sum(out.rms_a * weight for out, weight in corners),
            sum(out.winding_v * weight for out, weight in corners),
            sum(out.winding_dc_v * weight for out, weight in corners),
        )

    def _corner(self, ix: int, iy: int) -> Output:
        found = self._grid.get((ix, iy))
        if found is None:
            found = self.bridge.output(
                self.winding,
                ix * _SPEED_GRID_RPM,
                iy * _VOLTS_GRID_V,
                self.battery.resistance_ohm,
                self._ground_at_share,
            )
            self._grid[(ix, iy)] = found
        return found

    def step(self, dt_s: float, speed_rpm: float, winding_closed: bool = True) -> None:
        """Run on for ``dt_s`` seconds; ``winding_closed`` is False while the winding's circuit is open."""
        self.load_a = self.loads.current_a(self.battery_v)
        self._rectify(dt_s, speed_rpm, self.connected and winding_closed)
        self.battery_a = self.rectified_a - self.load_a
        self.battery.step(dt_s, self.battery_a)
        self.battery_v = self.battery.terminal_v(self.battery_a)

    def _rectify(self, dt_s: float, speed_rpm: float, live: bool) -> None:
        self._share += (passed_share(self.battery_v, self.bridge.set_v) - self._share) * (
            1.0 - math.exp(-dt_s / _REGULATOR_LAG_S)
        )
        if not live:
            self.rectified_a = self.stator_v = self.stator_dc_v = self.ripple_v = 0.0
            return
        behind_v = self.battery.emf_v - self.battery.resistance_ohm * self.load_a
        full = self.full_output(speed_rpm, behind_v)
        share = self._share
        self.rectified_a = share * full.mean_a
        self.stator_dc_v = share * full.winding_dc_v
        open_v = self.winding.open_circuit_v(speed_rpm)
        self.stator_v = math.sqrt(share * full.winding_v**2 + (1.0 - share) * open_v**2)
        alternating_a2 = max(0.0, share * full.rms_a**2 - self.rectified_a**2)
        self.ripple_v = self.battery.resistance_ohm * math.sqrt(alternating_a2)

    @property
    def electrical_w(self) -> float:
        """Power that the engine has to give for charging."""
        return self.rectified_a * self.battery_v
