"""Regular expressions out of cards, by an engine whose time is linear in the line's length.

Python's own engine can be made to run for years by a short pattern. RE2 can
not: it never goes back. It knows no back references and no look-around.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

__all__ = ["check_pattern", "finder"]

Find = Callable[[bytes], Sequence[bytes | None] | None]
MOST_CHARACTERS = 500
_MEMORY_BYTES = 1 << 20


def check_pattern(pattern: str, groups: int) -> None:
    """Check that a pattern can be used.

    Args:
        pattern: as the card gives it.
        groups: how many groups it must have.

    Raises:
        ValueError: saying what is wrong with it.
    """
    finder(pattern, groups)


def finder(pattern: str, groups: int) -> Find:
    """A function that finds the pattern in a line and gives what its groups hold; None where it is not found.

    Raises:
        ValueError: saying what is wrong with the pattern.
    """
    if not 1 <= len(pattern) <= MOST_CHARACTERS:
        raise ValueError(f"pattern has {len(pattern)} characters; 1 to {MOST_CHARACTERS} are accepted")
    try:
        import re2
    except ImportError as error:
        raise ValueError(
            "pattern needs the package google-re2, which is not installed here; "
            "use delimiter or keys, or install it"
        ) from error
    options = re2.Options()
    options.max_mem = _MEMORY_BYTES
    options.log_errors = False
    try:
        compiled = re2.compile(pattern, options)
    except re2.error as error:
        raise ValueError(
            f"pattern '{_shown(pattern)}' is no regular expression for RE2: {_shown(_words(error))}"
        ) from error
    if compiled.groups != groups:
        raise ValueError(
            f"pattern must have one group in parentheses for each [[channel]]: "
            f"{compiled.groups} and {groups}; (?:…) makes none"
        )

    def find(line: bytes) -> Sequence[bytes | None] | None:
        match = compiled.search(line)
        return None if match is None else match.groups()

    return find


def _shown(text: str) -> str:
    """As it stands in the card: a backslash is one backslash."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


def _words(error: Exception) -> str:
    first = error.args[0] if error.args else error
    return first.decode("utf-8", "replace") if isinstance(first, bytes) else str(first)
