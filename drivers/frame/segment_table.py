"""The bits of the 14-byte seven-segment frame. The whole table is from memory, no source.

Each byte carries its number, 1 to 14, in the high half; the low half has four
bits, each of which lights one piece of the display::

    byte  8          4        2         1
     1    AC         DC       auto      link
     2    minus      e        f         a        first digit, left half
     3    d          c        g         b        first digit, right half
     4    point      e        f         a        second digit; the point stands before it
     5    d          c        g         b
     6    point      e        f         a        third digit
     7    d          c        g         b
     8    point      e        f         a        fourth digit
     9    d          c        g         b
    10    micro      nano     kilo      diode
    11    milli      percent  mega      beep
    12    farad      ohm      relative  hold
    13    ampere     volt     hertz     low battery
    14    (differs from make to make: °C and the like)

      --a--
     f     b     the seven segments
      --g--
     e     c
      --d--
"""

from __future__ import annotations

__all__ = ["CHARACTERS", "FRAME_BYTES", "LEFT_SEGMENTS", "RIGHT_SEGMENTS", "SYMBOLS"]

FRAME_BYTES = 14

LEFT_SEGMENTS = {4: "e", 2: "f", 1: "a"}
RIGHT_SEGMENTS = {8: "d", 4: "c", 2: "g", 1: "b"}

SYMBOLS: dict[int, dict[int, str]] = {
    1: {8: "AC", 4: "DC", 2: "auto", 1: "link"},
    10: {8: "micro", 4: "nano", 2: "kilo", 1: "diode"},
    11: {8: "milli", 4: "percent", 2: "mega", 1: "beep"},
    12: {8: "farad", 4: "ohm", 2: "relative", 1: "hold"},
    13: {8: "ampere", 4: "volt", 2: "hertz", 1: "low battery"},
}
"""By the byte's number and the bit."""

CHARACTERS: dict[frozenset[str], str] = {
    frozenset(lit): character
    for lit, character in (
        ("", " "),
        ("abcdef", "0"),
        ("bc", "1"),
        ("abdeg", "2"),
        ("abcdg", "3"),
        ("bcfg", "4"),
        ("acdfg", "5"),
        ("acdefg", "6"),
        ("abc", "7"),
        ("abcdefg", "8"),
        ("abcdfg", "9"),
        ("def", "L"),
    )
}
"""What lit segments show."""
