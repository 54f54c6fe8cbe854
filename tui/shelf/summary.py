"""A recording in short: which machine, when, how long, what came out, and whether it is whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import msgspec

from daq.model.progress import unheard

if TYPE_CHECKING:
    from daq.recording.reader import Recording

__all__ = ["State", "Summary", "summarise"]

State = Literal["closed", "cut_off", "changed", "damaged", "going_on", "unreadable"]
"""How whole a recording is: closed properly; cut off; changed after it was closed; closed, but parts of it
can't be read; being written at this moment; no recording at all."""


class Summary(msgspec.Struct, frozen=True, kw_only=True):
    """What a list of recordings shows of one."""

    path: str
    state: State
    problems: list[str] = []
    started_s: float | None = None
    """Seconds since 1970, UTC; None where the start is not known."""
    machine: str = ""
    """Its title."""
    machine_name: str = ""
    """Its card's name, which is short."""
    source: str = ""
    length_s: float | None = None
    readings: int = 0
    verdict: str | None = None
    """None where it was not worked out."""
    rated_speed_rpm: float | None = None
    rated_voltage_V: float | None = None
    expanded_uncertainty_V: float | None = None
    minimum_V: float | None = None
    reasons: list[str] = []


def summarise(path: Path, progress: Callable[[float], None] = unheard) -> Summary:
    """Read a recording and say what it is in short; a file that is none is told so and raises nothing.

    Args:
        path: the file.
        progress: called with the part of the work that is done, from 0 to 1.
    """
    from daq.errors import SpinvoltError
    from daq.run.recorded import work_out

    try:
        run = work_out(path, progress)
        result = run.result()
    except SpinvoltError as error:
        return Summary(path=str(path), state="unreadable", problems=[str(error)])
    recording = run.recording
    return Summary(
        path=str(path),
        state=_state(recording),
        problems=list(recording.problems),
        started_s=recording.start.timestamp() if recording.start_known else None,
        machine=recording.machine.title if recording.machine is not None else "",
        machine_name=recording.machine.name if recording.machine is not None else "",
        source=recording.session.source,
        length_s=recording.last_t_ns * 1e-9,
        readings=recording.readings,
        verdict=result.verdict,
        rated_speed_rpm=result.rated_speed_rpm,
        rated_voltage_V=result.rated_voltage_V,
        expanded_uncertainty_V=result.expanded_uncertainty_V,
        minimum_V=result.minimum_V,
        reasons=list(result.reasons),
    )


def _state(recording: Recording) -> State:
    from daq.locking import writer_alive
    from daq.recording.troubles import Trouble

    if recording.close is None:
        return "going_on" if writer_alive(recording.path) else "cut_off"
    if recording.complete:
        return "closed"
    return "changed" if Trouble.CHANGED.value in recording.problems else "damaged"
