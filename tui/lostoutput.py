"""Standard output that takes nothing: the disk is full, it is closed, or whoever read it has gone."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from pathlib import Path
from typing import Literal, NoReturn, TextIO

from daq.errors import SpinvoltError
from tui.wrapped import say

__all__ = ["OutputLost", "end_run", "is_of_output", "let_go", "make_streams_usable", "what_was_lost"]

_FULL = (errno.ENOSPC, errno.EDQUOT)


class OutputLost(SpinvoltError):
    """Output could not be written while a run was recorded; the run was followed until its capture had ended.

    Attributes:
        error: why.
    """

    def __init__(self, error: OSError) -> None:
        super().__init__(what_was_lost(error))
        self.error = error


def what_was_lost(error: OSError) -> str:
    """The sentence about output that could not be written."""
    why = {
        **dict.fromkeys(_FULL, "the disk is full"),
        errno.EFBIG: "it would be larger than a file may be here",
        errno.EPIPE: "nobody reads it any more",
        errno.EBADF: "it is closed",
    }.get(error.errno or 0, error.strerror or str(error))
    return f"The output could not be written: {why}."


def end_run(error: OSError, recording: Path, failure: str = "") -> NoReturn:
    """End a run whose output could not be written: it says where its recording lies.

    Args:
        error: why the output could not be written.
        recording: where the recording lies.
        failure: the sentence about a capture that failed, or in which no reading came, and so kept nothing.

    Raises:
        BrokenPipeError: nobody reads the output any more. The sentence was said on standard error; the rest is
            as for any command whose reader has gone.
        SpinvoltError: anything else; the text is the sentence.
    """
    from tui.escapes import shown_path

    if failure:
        raise SpinvoltError(f"{what_was_lost(error)} {failure}") from error
    words = what_was_lost(error).removesuffix(".")
    sentence = f"{words}; the run was closed, and its recording is in {shown_path(recording)}."
    if not isinstance(error, BrokenPipeError):
        raise SpinvoltError(sentence) from error
    with contextlib.suppress(OSError):
        say([sentence], sys.stderr)
    raise error


def is_of_output(error: OSError) -> bool:
    """Whether it comes from standard output: what could not be written there can't be written now either."""
    if error.filename is not None:
        return False
    try:
        sys.stdout.flush()
        os.write(sys.stdout.fileno(), b"")  # what was too long for the buffer is not kept for a flush
    except OSError as again:
        return again.errno == error.errno
    except ValueError:
        return False
    return error.errno in (*_FULL, errno.EFBIG)  # files of the program's own tell of these themselves


def let_go(stream: TextIO) -> None:
    """Nothing more can be said there, also not at the exit, when what waits is written."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def make_streams_usable() -> None:
    """For a program on its own: a standard stream that is closed fails when it is used, and not before.

    Its number is taken, so that no file which is opened later gets what is meant for the stream; and a
    terminal without "±" gets a "?" there, not an error.
    """
    if sys.stdin is None:
        sys.stdin = _stand_in(0, os.O_RDONLY, "r")
    if sys.stdout is None:
        sys.stdout = _stand_in(1, os.O_RDONLY, "w")  # to write there is an error (EBADF), as on a closed one
    if sys.stderr is None:
        sys.stderr = _stand_in(2, os.O_WRONLY, "w")  # nobody could be told: what is said there is dropped
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _stand_in(number: int, flags: int, mode: Literal["r", "w"]) -> TextIO:
    nowhere = os.open(os.devnull, flags)
    if nowhere != number:
        os.dup2(nowhere, number)
        os.close(nowhere)
    else:
        os.set_inheritable(number, True)
    return open(number, mode, encoding="utf-8", closefd=False)  # noqa: SIM115 - it lasts as long as the program
