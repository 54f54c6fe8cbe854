"""The engine: a governor that holds a setting, hunts a little, and sags under load."""

from __future__ import annotations

import math
from random import Random

__all__ = ["Engine"]

_SPEED_LAG_S = 0.25
_RATE_LIMIT_RPM_PER_S = 1500.0
_COAST_S = 0.8
_DROOP_RPM_PER_W = 0.15
_ROUGHNESS_RPM = 4.0
_ROUGHNESS_LAG_S = 0.15
_GOVERNED_FROM_RPM = 2500.0
"""Below this the throttle rests on its idle stop, and a governor has little to hunt with."""


class Engine:
    """Speed of the crankshaft under a governor.

    The speed follows the setting with a lag and a limited rate. On top of it
    come slow hunting (a wave whose period wanders), and the roughness of
    firing, which is a random walk that is pulled back.

    Attributes:
        speed_rpm: speed now.
        revolutions: turned since the start.
        limit_rpm: the governor's highest speed.
    """

    def __init__(
        self,
        random: Random,
        *,
        start_rpm: float,
        limit_rpm: float | None = None,
        hunting: bool = False,
    ) -> None:
        self.speed_rpm = start_rpm
        self.revolutions = 0.0
        self._base_rpm = start_rpm
        self._random = random
        self.limit_rpm = math.inf if limit_rpm is None else limit_rpm
        self._hunting_rpm = 90.0 if hunting else 20.0
        self._hunting_period_s = 2.6 if hunting else 4.2
        self._hunting_phase = random.uniform(0.0, 2.0 * math.pi)
        self._roughness_rpm = 0.0

    def step(self, dt_s: float, setting_rpm: float, load_w: float = 0.0) -> None:
        """Run on for ``dt_s`` seconds at a governor setting, with ``load_w`` watts taken electrically."""
        before_rpm = self.speed_rpm
        if setting_rpm <= 0.0:
            self._coast(dt_s)
        else:
            self._follow(dt_s, min(setting_rpm, self.limit_rpm) - _DROOP_RPM_PER_W * load_w)
        self.revolutions += 0.5 * (before_rpm + self.speed_rpm) / 60.0 * dt_s

    def _coast(self, dt_s: float) -> None:
        self._base_rpm *= math.exp(-dt_s / _COAST_S)
        if self._base_rpm < 30.0:
            self._base_rpm = 0.0
        self.speed_rpm = self._base_rpm

    def _follow(self, dt_s: float, target_rpm: float) -> None:
        wanted = (target_rpm - self._base_rpm) * (1.0 - math.exp(-dt_s / _SPEED_LAG_S))
        limit = _RATE_LIMIT_RPM_PER_S * dt_s
        self._base_rpm += max(-limit, min(limit, wanted))
        self.speed_rpm = max(0.0, self._base_rpm + self._hunt(dt_s) + self._roughness(dt_s))

    def _hunt(self, dt_s: float) -> float:
        wander = self._random.gauss(0.0, 0.25) * math.sqrt(dt_s)
        self._hunting_phase += 2.0 * math.pi * dt_s / self._hunting_period_s + wander
        share = 1.0 if self._base_rpm > _GOVERNED_FROM_RPM else 0.4
        return share * self._hunting_rpm * math.sin(self._hunting_phase)

    def _roughness(self, dt_s: float) -> float:
        keep = math.exp(-dt_s / _ROUGHNESS_LAG_S)
        push = _ROUGHNESS_RPM * math.sqrt(1.0 - keep * keep)
        self._roughness_rpm = keep * self._roughness_rpm + self._random.gauss(0.0, push)
        return self._roughness_rpm
