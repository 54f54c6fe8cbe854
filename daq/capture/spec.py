"""What goes into the capture process and what it says back: one JSON object a line.

Standard input: one :class:`CaptureSpec`, then control messages, each told
apart by its ``do``. Standard output: status messages, told apart by ``event``.
"""

from __future__ import annotations

from typing import Any

import msgspec

__all__ = [
    "CaptureSpec",
    "Closed",
    "Closing",
    "Control",
    "Failed",
    "Heard",
    "InstrumentSpec",
    "Key",
    "Mark",
    "RecordingMoved",
    "RecordingStarted",
    "Refused",
    "Resumed",
    "Stalled",
    "Status",
    "Step",
    "Stop",
    "decode_control",
    "decode_status",
]


class InstrumentSpec(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One instrument of the run."""

    card: dict[str, Any]
    """The instrument card, whole."""
    address: str


class CaptureSpec(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that a capture needs to know."""

    path: str
    """Where the recording goes."""
    instruments: list[InstrumentSpec]
    force: bool = False
    """Replace a file that is there."""
    numbered: bool = False
    """The name was chosen by the program: where it is taken, the next free one is, with -2, -3 and so on."""
    source: str = "run"
    """"run" or "demo"."""
    machine: dict[str, Any] | None = None
    """The machine card, whole."""
    seconds: float | None = None
    """Length of the recording; None: until told to stop."""
    note: str = ""
    patient: bool = False
    """Keep waiting where no instrument has sent a reading; else that ends the run and leaves no file."""

    def __post_init__(self) -> None:
        if not self.instruments:
            raise ValueError("a capture needs at least one instrument")
        if self.seconds is not None and not 0 < self.seconds <= 30 * 86_400:
            raise ValueError(f"seconds = {self.seconds:g} must be above 0 and at most 30 days")


class _Control(msgspec.Struct, frozen=True, tag_field="do"):
    pass


class Stop(_Control, tag="stop", frozen=True):
    """End the run."""

    reason: str = "stopped by hand"


class Mark(_Control, tag="mark", frozen=True):
    """Put a person's mark into the recording, at the time it arrives."""

    text: str


class Key(_Control, tag="key", frozen=True):
    """A line a person typed for a keyed-in instrument."""

    instrument: str
    """Its name in this run, or its address, which is "keyboard"."""
    line: str


class Step(_Control, tag="step", frozen=True):
    """A step of the job sheet changed its state."""

    step: str
    state: str
    text: str = ""


class _Status(msgspec.Struct, frozen=True, tag_field="event"):
    pass


class RecordingStarted(_Status, tag="recording", frozen=True):
    """The recording is open, with its session, machine and channel entries."""

    path: str


class RecordingMoved(_Status, tag="moved", frozen=True):
    """Something else changed the recording, or took its name: it goes on in another file."""

    path: str
    text: str


class Refused(_Status, tag="refused", frozen=True):
    """An instrument could not be opened; it is tried again."""

    instrument: str
    text: str


class Stalled(_Status, tag="stalled", frozen=True):
    """The disk takes nothing; readings are held in memory."""

    text: str


class Resumed(_Status, tag="resumed", frozen=True):
    """The disk takes data again."""

    text: str


class Closing(_Status, tag="closing", frozen=True):
    """The run is over; what the disk has not taken yet is written now, and then the closing line."""


class Heard(_Status, tag="heard", frozen=True):
    """What a typed line was understood as, or why it was not."""

    text: str
    understood: bool


class Closed(_Status, tag="closed", frozen=True):
    """The recording was closed properly. The last message; exit status 0."""

    reason: str
    readings: int


class Failed(_Status, tag="failed", frozen=True):
    """The capture could not go on. The last message; exit status 1."""

    text: str
    usage: bool = False
    """What was asked for made no sense, such as an address that can't be one."""


Control = Stop | Mark | Key | Step
Status = RecordingStarted | RecordingMoved | Refused | Stalled | Resumed | Closing | Heard | Closed | Failed

_control_decoder = msgspec.json.Decoder(Control)
_status_decoder = msgspec.json.Decoder(Status)


def decode_control(line: bytes) -> Control:
    """Read a control message; msgspec.DecodeError or ValidationError when it is none."""
    message: Control = _control_decoder.decode(line)
    return message


def decode_status(line: bytes) -> Status:
    """Read a status message; msgspec.DecodeError or ValidationError when it is none."""
    message: Status = _status_decoder.decode(line)
    return message
