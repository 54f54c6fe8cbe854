"""What the throttle lever is told to do over time."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["IDLE_RPM", "SCRIPTS", "TEST_SPEED_RPM", "Script", "script_named"]

IDLE_RPM = 1800.0
TEST_SPEED_RPM = 3600.0
_TOP_RPM = 3800.0


@dataclass(frozen=True)
class Script:
    """Corner points (time in s, governor setting in rpm), joined by straight lines.

    After the last point the setting stays, or, with ``repeats``, the script starts over.
    """

    name: str
    points: tuple[tuple[float, float], ...]
    repeats: bool = False

    def setting_rpm(self, t_s: float) -> float:
        """The governor's setting at ``t_s`` seconds after the start."""
        end_s = self.points[-1][0]
        if self.repeats and end_s > 0:
            t_s %= end_s
        if t_s >= end_s:
            return self.points[-1][1]
        for (t0_s, rpm0), (t1_s, rpm1) in zip(self.points, self.points[1:], strict=False):
            if t_s < t1_s:
                return rpm0 + (rpm1 - rpm0) * max(0.0, t_s - t0_s) / (t1_s - t0_s)
        return self.points[-1][1]


SCRIPTS: dict[str, Script] = {
    script.name: script
    for script in (
        # warm up at idle, then hold the test speed
        Script("hold", ((0.0, IDLE_RPM), (3.0, IDLE_RPM), (6.0, TEST_SPEED_RPM))),
        # one way up and one way down in every 30 s
        Script(
            "sweep",
            (
                (0.0, IDLE_RPM),
                (2.0, IDLE_RPM),
                (13.0, _TOP_RPM),
                (16.0, _TOP_RPM),
                (27.0, IDLE_RPM),
                (30.0, IDLE_RPM),
            ),
            repeats=True,
        ),
        # four speeds, the test speed longest
        Script(
            "steps",
            (
                (0.0, IDLE_RPM),
                (7.0, IDLE_RPM),
                (8.0, 2400.0),
                (15.0, 2400.0),
                (16.0, 3000.0),
                (23.0, 3000.0),
                (24.0, TEST_SPEED_RPM),
                (40.0, TEST_SPEED_RPM),
                (42.0, IDLE_RPM),
            ),
            repeats=True,
        ),
        Script("idle", ((0.0, IDLE_RPM),)),
        Script("work", ((0.0, TEST_SPEED_RPM),)),
        Script("stopped", ((0.0, 0.0),)),
    )
}


def script_named(name: str) -> Script:
    """The script of that name.

    Raises:
        ValueError: naming the scripts there are.
    """
    if name not in SCRIPTS:
        raise ValueError(f"There is no script {name!r}; there are: {', '.join(SCRIPTS)}.")
    return SCRIPTS[name]
