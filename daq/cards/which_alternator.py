"""Which alternator is it? Decided from what can be seen and measured, never from colours.

Colours of leads and plugs are each maker's own; the service manual has them.
The table is general trade practice ("common practice, no source").
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from daq.cards.machine_parts import AlternatorClass

__all__ = ["COLOURS", "LOOKS", "Look", "Which", "which_alternator"]

COLOURS = "Colours of leads and plugs are each maker's own: go by the service manual, never by the colour."


@dataclass(frozen=True)
class Look:
    """One thing to see or to measure."""

    key: str
    question: str
    answers: Mapping[str, str]
    """What may be answered, and in which words it is then told."""
    caution: str = ""
    """What to mind before looking; "" where nothing turns or stands under volts."""


LOOKS: tuple[Look, ...] = (
    Look(
        "leads",
        "How many leads come out from under the flywheel, the stop switch's lead left out?",
        {"1": "one lead", "2": "two leads", "3": "three leads"},
    ),
    Look(
        "diode",
        "Is there a diode in a lead (a small hard lump in the sleeve or in the plug)?",
        {"yes": "a diode in a lead", "no": "no diode in a lead"},
    ),
    Look(
        "regulator",
        "Is there a regulator-rectifier (a finned metal box with a plug, screwed to the engine or the frame)?",
        {"yes": "a regulator-rectifier", "no": "no regulator-rectifier"},
    ),
    Look(
        "to_ground",
        "Engine at work speed, stator unplugged: what stands between the leads and the engine block "
        "(AC volts, DC volts, both, one lead each, or none)?",
        {
            "ac": "AC to ground",
            "dc": "DC to ground",
            "both": "DC on one lead and AC on another",
            "none": "no volts to ground, only between the leads",
        },
        "An unplugged stator at work speed can pass 30 V AC rms, which IEC 61010-1 counts as hazardous (from memory): "
        "put clips on with the engine stopped, no held probes, and touch no lead while it runs. Outdoors, hands and "
        "leads clear of what turns, never above rated speed; the service manual comes first.",
    ),
)
"""In the order in which they are easiest: look first, measure last."""

_FITS: Mapping[AlternatorClass, Mapping[str, tuple[str, ...]]] = {
    AlternatorClass.AC_ONLY: {
        "leads": ("1", "2"), "diode": ("no",), "regulator": ("no",), "to_ground": ("ac", "none"),
    },
    AlternatorClass.DC_ONLY: {
        "leads": ("1",), "diode": ("yes",), "regulator": ("no",), "to_ground": ("dc",),
    },
    AlternatorClass.REGULATED: {
        "leads": ("2", "3"), "diode": ("no",), "regulator": ("yes",), "to_ground": ("ac", "none"),
    },
    AlternatorClass.SPLIT: {
        "leads": ("2", "3"), "diode": ("yes", "no"), "regulator": ("yes", "no"), "to_ground": ("both", "ac"),
    },
}  # fmt: skip


@dataclass(frozen=True)
class Which:
    """What the answers leave over."""

    classes: tuple[AlternatorClass, ...]
    """Classes that nothing speaks against, the one that the answers fit most closely first."""
    reasons: tuple[str, ...]
    next_look: Look | None
    """What to look at next; None where it is decided or nothing is left to look at."""

    @property
    def decided(self) -> AlternatorClass | None:
        """The class, where only one is left."""
        return self.classes[0] if len(self.classes) == 1 else None


def which_alternator(answers: Mapping[str, str], unknown: Collection[str] = ()) -> Which:
    """Decide from the answers so far, by the looks' keys.

    Args:
        answers: by the looks' keys.
        unknown: looks that could not be answered; they are not asked for again.

    Raises:
        ValueError: a look or an answer that there isn't.
    """
    for key, answer in answers.items():
        look = next((each for each in LOOKS if each.key == key), None)
        if look is None or answer not in look.answers:
            raise ValueError(f"{key} = {answer!r} is no answer that can be used here")
    left = [each for each in AlternatorClass if not _against(each, answers)]
    left.sort(key=lambda each: _looseness(each, answers))
    return Which(tuple(left), _reasons(left, answers), _next_look(left, {*answers, *unknown}))


def _against(alternator: AlternatorClass, answers: Mapping[str, str]) -> list[str]:
    return [key for key, answer in answers.items() if answer not in _FITS[alternator][key]]


def _looseness(alternator: AlternatorClass, answers: Mapping[str, str]) -> int:
    return sum(len(_FITS[alternator][key]) for key in answers)


def _reasons(left: list[AlternatorClass], answers: Mapping[str, str]) -> tuple[str, ...]:
    words = {look.key: look.answers for look in LOOKS}
    said = []
    for alternator in AlternatorClass:
        against = [words[key][answers[key]] for key in _against(alternator, answers)]
        if against:
            said.append(f"Not {alternator.words}: {', '.join(against)} does not go with it.")
    for alternator in left if answers else ():
        fits = ", ".join(words[look.key][answers[look.key]] for look in LOOKS if look.key in answers)
        said.append(f"{alternator.words[0].upper()}{alternator.words[1:]} goes with {fits}.")
    if not left:
        said.append("No class goes with all of this: look again, or ask the service manual.")
    return (*said, COLOURS)


def _next_look(left: list[AlternatorClass], asked: Collection[str]) -> Look | None:
    """The first look not yet asked for that can tell the classes left apart."""
    if len(left) < 2:
        return None
    for look in LOOKS:
        if look.key not in asked and len({_FITS[each][look.key] for each in left}) > 1:
            return look
    return None
