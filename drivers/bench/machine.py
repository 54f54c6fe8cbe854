"""The invented machine: a nursery's spray cart with a small engine and a 10 A class flywheel alternator."""

from __future__ import annotations

import math
from random import Random

from .alternator import Winding
from .battery import Battery
from .build import HEALTHY_RATED_V, Build
from .charging import ChargingSystem
from .engine import Engine
from .faults import Condition
from .kinds import kind_named
from .lamps import LampCircuit
from .leads import Standing
from .loads import Loads
from .rectifier import Bridge
from .script import TEST_SPEED_RPM, Script

__all__ = ["STEP_S", "Joint", "Machine"]

STEP_S = 0.005
"""The one fixed step of the physics."""

_SPREAD = 0.02
_PICKUP_V = 0.004
"""What open leads pick up."""
_EMF_FLUTTER = 0.001
"""Unevenness of the e.m.f. from one step to the next."""
_GROUND_FAULT_OHM = 0.05
_LAMP_RATED_V = 17.0


class Joint:
    """A joint in the winding's lead that may open now and then while it is shaken."""

    def __init__(self, random: Random, opens_per_s: float) -> None:
        self._random = random
        self.opens_per_s = opens_per_s
        self._open_left_s = 0.0

    @property
    def closed(self) -> bool:
        """Whether it conducts now."""
        return self._open_left_s <= 0.0

    def step(self, dt_s: float, shaking: float) -> None:
        """Go on for ``dt_s``; ``shaking`` is 0 at rest, 1 with the engine running, more if wiggled."""
        self._open_left_s = max(0.0, self._open_left_s - dt_s)
        if self.closed and self._random.random() < self.opens_per_s * shaking * dt_s:
            self._open_left_s = self._random.uniform(0.05, 0.9)


class Machine:
    """Engine, alternator, charging circuit and battery, stepped together.

    What the meter's leads can see of it is a :class:`leads.Standing`.
    """

    def __init__(
        self,
        condition: Condition,
        script: Script,
        seed: int,
        *,
        hunting: bool,
        state_of_charge: float,
        build: Build | None = None,
    ) -> None:
        self.condition, self.script = condition, script
        self.build = build = build or Build()
        self.kind = kind = kind_named(build.alternator)
        if condition.name in kind.lacks:
            raise ValueError(f"There is no {condition.name} on an alternator of the kind {kind.name}.")
        strength = condition.magnet_strength * (1.0 + Random(f"{seed} winding").uniform(-_SPREAD, _SPREAD))
        winding = Winding(
            volts_per_rpm=build.warm_rated_v / TEST_SPEED_RPM * strength,
            pole_pairs=build.pole_pairs,
            resistance_ohm=build.winding_ohm,
            inductance_h=build.inductance_h,
            shorted_share=condition.shorted_share,
        )
        bridge = Bridge(
            wiring_ohm=build.wiring_ohm + condition.connector_ohm,
            one_diode_open=condition.diode_open,
            dead=condition.regulator_dead
            or condition.fuse_blown
            or not kind.charges
            or (kind.half_wave and condition.diode_open),
            set_v=build.regulator_set_v if kind.regulator else math.inf,
            half_wave=kind.half_wave,
        )
        self.lamps = LampCircuit(winding if not kind.charges else _lamp_winding(strength), build.lamps_a)
        battery = Battery(
            state_of_charge,
            capacity_ah=build.capacity_ah * condition.capacity_left,
            resistance_ohm=build.warm_battery_ohm + condition.worn_ohm_ah / build.capacity_ah,
        )
        self.charging = ChargingSystem(
            winding,
            bridge,
            battery,
            Loads(amps={**build.loads_a, **_added(condition, build)}),
            ground_at_share=condition.ground_at_share,
        )
        self.engine = Engine(
            Random(f"{seed} engine"),
            start_rpm=script.setting_rpm(0.0),
            limit_rpm=condition.governor_limit_rpm,
            hunting=hunting,
        )
        self.joint = Joint(Random(f"{seed} joint"), condition.joint_opens_per_s)
        self._noise = Random(f"{seed} noise")
        self.wiggled = False
        self.stopped = False
        self.script_from_s = 0.0
        self.t_s = 0.0
        self._flutter = 0.0

    def step(self) -> None:
        """Run on for :data:`STEP_S`."""
        self.t_s += STEP_S
        setting_rpm = 0.0 if self.stopped else self.script.setting_rpm(self.t_s - self.script_from_s)
        self.engine.step(STEP_S, setting_rpm, self.charging.electrical_w + self._lamps_w())
        shaking = (1.0 if self.engine.speed_rpm > 0.0 else 0.0) + (6.0 if self.wiggled else 0.0)
        self.joint.step(STEP_S, shaking)
        self.charging.step(STEP_S, self.engine.speed_rpm, self.winding_closed)
        self._flutter = self._noise.gauss(0.0, 1.0)

    def run(self, script: Script) -> None:
        """Start another script now."""
        self.script, self.script_from_s, self.stopped = script, self.t_s, False

    def take_parts_of(self, other: Machine) -> None:
        """Get the other's condition, winding, bridge, joint and battery; engine, time and charge stay."""
        self.condition, self.joint = other.condition, other.joint
        other.charging.battery.take_charge_of(self.charging.battery)
        other.charging.connected = self.charging.connected
        other.charging.loads.switched_off = self.charging.loads.switched_off & set(other.charging.loads.amps)
        self.charging, self.lamps = other.charging, other.lamps
        self.engine.limit_rpm = other.engine.limit_rpm

    def _lamps_w(self) -> float:
        """What the lamps take from the engine; on the only winding they are unplugged with it."""
        lit = self.kind.charges or (self.charging.connected and self.winding_closed)
        return self.lamps.power_w(self.engine.speed_rpm) if lit else 0.0

    @property
    def winding_closed(self) -> bool:
        """Whether current can pass from one stator lead to the other."""
        return self.joint.closed and not self.condition.winding_open

    def rated_v(self) -> float:
        """True unloaded rms volts at the test speed: what should be found. 0 for an open winding."""
        if self.condition.winding_open:
            return 0.0
        return self.charging.winding.open_circuit_v(TEST_SPEED_RPM)

    def standing(self) -> Standing:
        """What the meter's leads can find now."""
        winding, charging = self.charging.winding, self.charging
        pickup_v = abs(_PICKUP_V * self._flutter)
        emf_v = winding.open_circuit_v(self.engine.speed_rpm) * (1.0 + _EMF_FLUTTER * self._flutter)
        open_v = emf_v if self.winding_closed else pickup_v
        return Standing(
            speed_rpm=self.engine.speed_rpm,
            frequency_hz=winding.frequency_hz(self.engine.speed_rpm),
            stator_open_v=open_v,
            stator_loaded_v=charging.stator_v if self.kind.charges else self._lit_v(pickup_v),
            stator_loaded_dc_v=charging.stator_dc_v,
            stator_ohm=winding.terminal_ohm if self.winding_closed else math.inf,
            stator_to_ground_v=self._to_ground_v(open_v, pickup_v),
            stator_to_ground_ohm=self._to_ground_ohm(),
            battery_v=charging.battery_v if self.kind.charges else 0.0,
            ripple_v=charging.ripple_v,
            battery_a=charging.battery_a if self.kind.charges else 0.0,
            rectified_a=charging.rectified_a,
            load_a=charging.load_a if self.kind.charges else 0.0,
            wiring_ohm=charging.bridge.wiring_ohm,
            fuse_blown=self.condition.fuse_blown,
            lead_ohm=self.build.meter_lead_ohm,
            **self._lamp_standing(),
        )

    def _lamp_standing(self) -> dict[str, float]:
        """Of the lamps' own winding; where there is none, nothing stands there."""
        if not self.kind.charges or self.build.lamps_a <= 0.0:
            return {}
        speed_rpm, winding = self.engine.speed_rpm, self.lamps.winding
        return {
            "lamp_open_v": winding.open_circuit_v(speed_rpm),
            "lamp_lit_v": self.lamps.lit_v(speed_rpm),
            "lamp_winding_ohm": winding.terminal_ohm,
        }

    def _lit_v(self, pickup_v: float) -> float:
        return self.lamps.lit_v(self.engine.speed_rpm) if self.winding_closed else pickup_v

    def _to_ground_v(self, open_v: float, pickup_v: float) -> float:
        if self.kind.grounded:
            return open_v
        at = self.condition.ground_at_share
        return pickup_v if at is None else at * open_v

    def _to_ground_ohm(self) -> float:
        """From a lead, unplugged, to the engine block: through the winding where its other end is grounded."""
        winding_ohm = self.charging.winding.terminal_ohm
        if self.kind.grounded:
            return winding_ohm if self.winding_closed else math.inf
        at = self.condition.ground_at_share
        return math.inf if at is None else at * winding_ohm + _GROUND_FAULT_OHM


def _lamp_winding(strength: float) -> Winding:
    """The other winding of split circuits, under the same magnets."""
    return Winding(
        volts_per_rpm=_LAMP_RATED_V / TEST_SPEED_RPM * strength, resistance_ohm=0.2, inductance_h=0.0004
    )


def _added(condition: Condition, build: Build) -> dict[str, float]:
    """Loads that do not belong there, as large beside this machine as they are beside the cart."""
    size = build.rated_v / build.resistance_ohm / (HEALTHY_RATED_V / Build().resistance_ohm)
    return {name: amps * max(1.0, size) for name, amps in condition.extra_loads_a.items()}
