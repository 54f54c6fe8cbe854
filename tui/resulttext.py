"""A result in words, for a person or a screen reader: the verdict first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.escapes import shown_path
from tui.text import clean
from tui.view.numbers import fixed, known, percent, with_uncertainty

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from daq.verdict.result import Result

__all__ = ["left_words", "recording_line", "result_lines"]

_VERDICTS = {
    "pass": "Verdict: PASS. The rated output meets its limit.",
    "fail": "Verdict: FAIL. The rated output misses its limit.",
    "too_close": "Verdict: TOO CLOSE TO CALL. The uncertainty reaches across the limit.",
    "no_limit": "Verdict: NO LIMIT. No machine card gives a least value to hold it against.",
    "not_enough_data": "Verdict: NOT ENOUGH DATA for a rated output.",
}
_TOO_FAR = "Verdict: NOT ENOUGH DATA near rated speed to hold the rated output against its limit."


def result_lines(result: Result) -> list[str]:
    """The lines of a result."""
    stated = result.rated_voltage_V is not None and known(result.rated_voltage_V)
    lines = [
        _TOO_FAR if stated and result.verdict == "not_enough_data" else _VERDICTS[result.verdict],
        _output(result),
        _limit(result),
        _line_fit(result),
        _lag(result),
        f"Rows: {result.rows} aligned, {result.rows_rejected} of them left out.",
    ]
    if result.reasons:
        lines += ["Reasons:", *[f"  - {clean(sentence, 1000)}" for sentence in result.reasons]]
    return [line for line in lines if line]


def recording_line(path: Path, left: Sequence[str]) -> str:
    """Where the recording lies, and why it does not lie where it began.

    Args:
        path: the recording.
        left: names of the files that the run has left because something else changed or replaced them.
    """
    return f"Recording: {shown_path(path)}{left_words(left)}"


def left_words(left: Sequence[str]) -> str:
    """Why a run has left its first file, to stand behind the name of its last one; "" where it has not."""
    if not left:
        return ""
    return f" (something else changed or replaced {' and '.join(clean(name) for name in left)})"


def _output(result: Result) -> str:
    value = result.rated_voltage_V
    if value is None or not known(value):
        return "Rated output: not known."
    speed = "" if result.rated_speed_rpm is None else f" at {result.rated_speed_rpm:.0f} rpm"
    least = bool(result.unknown_errors)
    output = with_uncertainty(value, result.expanded_uncertainty_V, "V", least=least)
    text = f"Rated output: {output}{',' if least else ''}{speed}, unloaded"
    if result.coverage_factor is None:
        return f"{text}."
    return f"{text} ({100 * result.coverage_probability:.0f} % coverage, k = {result.coverage_factor:.2f})."


def _limit(result: Result) -> str:
    if result.minimum_V is None:
        return ""
    text = f"Limit: at least {fixed(result.minimum_V, 1)} V"
    if result.conformance_probability is None:
        return f"{text}."
    return f"{text}; the chance that the output meets it is {percent(result.conformance_probability)}."


def _line_fit(result: Result) -> str:
    if result.volts_per_1000rpm is None:
        return ""
    text = f"Proportion: {result.volts_per_1000rpm:.3f} V for each 1000 rpm"
    if result.offset_V is None or result.offset_u_V is None:
        return f"{text}."
    offset = with_uncertainty(result.offset_V, 2 * result.offset_u_V, "V")
    return f"{text}; a straight line through the rows meets 0 rpm at {offset}."


def _lag(result: Result) -> str:
    if result.lag_s is None or result.lag_u_s is None:
        return "Lag: not stated, since this run does not show it; what that can cost is in the uncertainty."
    direction = "after" if result.lag_s >= 0 else "before"
    amount = with_uncertainty(abs(result.lag_s), 2 * result.lag_u_s, "s")
    return f"Lag: the volts arrive {amount} {direction} the speed of the same instant."
