"""Where the details of an unexpected error go: a file in the platform's log folder."""

from __future__ import annotations

import traceback
from datetime import UTC, datetime
from pathlib import Path

__all__ = ["write_error_log"]


def write_error_log(error: BaseException) -> Path | None:
    """Write the traceback to a new file; None where even that fails."""
    from platformdirs import user_log_path

    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S-%f")
    try:
        folder = user_log_path("spinvolt", appauthor=False, ensure_exists=True)
        path = folder / f"error-{stamp}.txt"
        path.write_text("".join(traceback.format_exception(error)), encoding="utf-8", errors="replace")
    except OSError:
        return None
    return path
