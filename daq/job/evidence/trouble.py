"""What keeps a reading from being judged; the reading itself is always kept."""

from __future__ import annotations

from enum import Enum

import msgspec

__all__ = ["Trouble", "TroubleKind"]


class TroubleKind(Enum):
    """Why a reading is not judged."""

    CANNOT_BE_TRUE = "cannot_be_true"
    WRONG_FUNCTION = "wrong_function"
    WRONG_STEP = "wrong_step"
    WRONG_ENGINE_STATE = "wrong_engine_state"
    NO_VALUE = "no_value"
    CUT_SHORT = "cut_short"
    RECORDING_MISSING = "recording_missing"
    RECORDING_CHANGED = "recording_changed"
    EDITED = "edited"
    """The job file's line makes no sense: edited by hand, or damaged."""

    @property
    def is_a_slip(self) -> bool:
        """Whether it points to an error of instrument or set-up, rather than to a file or the engine."""
        return self in _SLIPS


_SLIPS = frozenset(
    {
        TroubleKind.CANNOT_BE_TRUE,
        TroubleKind.WRONG_FUNCTION,
        TroubleKind.WRONG_ENGINE_STATE,
        TroubleKind.NO_VALUE,
    }
)


class Trouble(msgspec.Struct, frozen=True):
    """One reason not to judge, with a sentence that says what to do next."""

    kind: TroubleKind
    text: str
