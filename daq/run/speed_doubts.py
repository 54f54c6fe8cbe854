"""Whether the speed can be relied on: against the frequency, the machine card, and the volts beside it."""

from __future__ import annotations

import numpy as np

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.align.parts import spread
from daq.align.setting_signs import counted_lamp
from daq.align.split_speed import SplitSpeed, find_split_speed, find_sudden_multiple
from daq.align.streams import PlacedStreams
from daq.model.quantity import Quantity
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.poles import PolePairs, pole_pairs_from_readings
from daq.run.channels import ChannelData, RunData

__all__ = [
    "MOST_GAP",
    "find_poles",
    "frequency_gap",
    "pole_notes",
    "speed_doubts",
    "split_speed",
    "turns_backwards",
]

MOST_GAP = 0.01
"""Share by which tach and frequency may differ before nothing is judged; less is in the uncertainty (judgement)."""
_TOO_FAST = 1.5
"""Multiple of rated speed at which no governed engine runs (common practice, no source)."""


def turns_backwards(speed: ChannelData) -> bool:
    """Nearly all speeds are negative: the tach shows the direction with a sign."""
    value = speed.sample()
    return len(value) > 0 and float(np.quantile(value, 0.9)) < 0.0


def find_poles(data: RunData, pairing: Pairing) -> PolePairs | None:
    """Pole pairs from the frequency channel and the aligned speed; None without enough of both."""
    frequency = data.first(Quantity.FREQUENCY)
    if frequency is None or len(pairing.rows.time_s) < 3:
        return None
    good = pairing.mark == Mark.GOOD
    t, n = pairing.rows.time_s[good], pairing.rows.speed_rpm[good]
    f_t, f = frequency.time_s[frequency.usable], frequency.value[frequency.usable]
    if len(t) < 3 or len(f) < 3:
        return None
    speed = np.interp(f_t, t, n, left=np.nan, right=np.nan)
    return pole_pairs_from_readings(f, speed)


def frequency_gap(data: RunData, poles: PolePairs | None, tach: InstrumentLimits) -> float:
    """Share by which the tach reads under the frequency's speed beyond what both instruments' limits allow, or 0."""
    frequency, speed = data.first(Quantity.FREQUENCY), data.speed
    if poles is None or poles.pole_pairs is None or frequency is None or speed is None:
        return 0.0
    shown = frequency.value[frequency.usable]
    hertz = InstrumentLimits.of(frequency.card, shown)
    usual_hz = np.array([float(np.median(shown))])
    usual_rpm = 60.0 * usual_hz / poles.ratio
    limits = (hertz.limit(usual_hz) * hertz.known + 0.5 * hertz.digit) / usual_hz
    limits = limits + (tach.limit(usual_rpm) * tach.known + 0.5 * tach.digit) / usual_rpm
    return poles.gap(float(limits[0]))


def speed_doubts(
    data: RunData, streams: PlacedStreams, pairing: Pairing, poles: PolePairs | None, tach: InstrumentLimits
) -> tuple[str, ...]:
    """Sentences that forbid a verdict; empty where nothing speaks against the speed."""
    return (
        *_split(data, streams, pairing),
        *_lamp(streams, pairing),
        *(_against_frequency(data, poles, tach) or _too_fast(data, pairing)),
    )


def pole_notes(data: RunData, poles: PolePairs | None, tach: InstrumentLimits) -> tuple[str, ...]:
    """What frequency and tach agree on, for the reasons."""
    if poles is None or poles.pole_pairs is None or _against_frequency(data, poles, tach):
        return ()
    pairs = poles.pole_pairs
    gap = frequency_gap(data, poles, tach)
    if gap:
        return (
            f"The tach reads {100.0 * abs(gap):.2f} % {'under' if gap > 0.0 else 'over'} the speed of the frequency "
            f"with {pairs} pole pairs, more than the instruments' limits and scatter explain; that is in the "
            "uncertainty.",
        )
    if data.machine is not None and data.machine.pole_pairs is not None:
        return (f"Frequency and tach agree on the card's {pairs} pole pairs.",)
    return (
        f"Frequency and tach make {pairs} pole pairs ({poles.ratio:.3f} ± {2.0 * poles.u_ratio:.3f}). Compare that "
        "with the machine: a tach that counts double halves it.",
    )


def split_speed(data: RunData, streams: PlacedStreams, pairing: Pairing) -> SplitSpeed | None:
    """What splits the speed in two; for logs with clocks of their own at any shift between them.

    There a shift may be found that lays the volts beside one part of the run only.
    """
    found = find_split_speed(streams, pairing.lag.lag_s)
    if found is not None or not data.own_clocks or streams.counted:
        return found
    return find_sudden_multiple(streams)


def _split(data: RunData, streams: PlacedStreams, pairing: Pairing) -> tuple[str, ...]:
    found = split_speed(data, streams, pairing)
    if found is None:
        return ()
    against = (
        "the others are, from one reading to the next"
        if data.own_clocks
        else "the volts say beside the others"
    )
    cause = (
        "marks were counted twice for part of the run, or missed in the rest of it"
        if found.above
        else "marks were missed for part of the run, or counted twice in the rest of it"
    )
    return (
        f"{found.count} of {found.total} tach readings are {found.words} what {against}: "
        f"{cause}. Which part is right can't be told, so nothing is judged. Put on one clean mark, cover "
        "everything else on the shaft that shines, and repeat.",
    )


def _lamp(streams: PlacedStreams, pairing: Pairing) -> tuple[str, ...]:
    """The tach counts a lamp: its speed says nothing of the engine's."""
    if streams.counted:
        return ()
    good = streams.marks.volts == Mark.GOOD
    volts = streams.volts if bool(good.all()) else np.where(good, streams.volts, np.nan)
    lag_s = pairing.lag.lag_s if pairing.lag.determined else 0.0
    lamp = counted_lamp(streams.speed_base.time_s, streams.speed, streams.volts_base.time_s - lag_s, volts)
    if lamp is None:
        return ()
    return (
        f"The tach stood {lamp.words}, the speed of a lamp on the mains, in {lamp.count} of {lamp.total} readings, "
        "while the volts changed. Either it counts the lamp and not the flywheel, or the engine held that speed and "
        "the volts changed by themselves (a joint that opens, an output that falls with heat), or the engine hunts "
        "faster than the tach can show: shade the lamps and repeat; nothing is judged on this.",
    )


def _against_frequency(data: RunData, poles: PolePairs | None, tach: InstrumentLimits) -> tuple[str, ...]:
    """Frequency and tach contradict each other, or the machine card: then no speed can be relied on."""
    if poles is None or not np.isfinite(poles.ratio):
        return ()
    expected = data.machine.pole_pairs if data.machine is not None else None
    if poles.pole_pairs is None:
        return (
            f"Frequency and tach do not agree: 60·f/n is {poles.ratio:.2f}, no whole number of pole pairs. "
            "The tach's marks per revolution or the frequency reading is wrong; nothing is judged on this speed.",
        )
    if expected is not None and poles.pole_pairs != expected:
        return (
            f"Frequency and tach give {poles.pole_pairs} pole pairs, the machine card says {expected}: the tach "
            f"reads {expected / poles.pole_pairs:.2f} times the true speed, or the card is wrong. Nothing is "
            "judged until one of them is put right.",
        )
    gap = frequency_gap(data, poles, tach)
    if abs(gap) > MOST_GAP:
        return (
            f"The tach reads {100.0 * abs(gap):.1f} % {'under' if gap > 0.0 else 'over'} the speed that the frequency "
            f"gives with {poles.pole_pairs} pole pairs: it misses marks or counts too many, or the frequency "
            "reading is wrong. Nothing is judged on this speed; put on one clean mark, and repeat.",
        )
    return ()


def _too_fast(data: RunData, pairing: Pairing) -> tuple[str, ...]:
    """The tach shows a speed that the machine can't have: every mark counted twice looks like that."""
    counted = pairing.rows.speed_rpm[pairing.mark == Mark.GOOD]
    if data.machine is None or len(counted) == 0:
        return ()
    usual_rpm, rated_rpm = float(np.median(counted[spread(len(counted))])), data.machine.rated_speed_rpm
    if usual_rpm <= _TOO_FAST * rated_rpm:
        return ()
    return (
        f"The tach shows {usual_rpm:.0f} rpm, {usual_rpm / rated_rpm:.1f} times the rated test speed: no governed "
        "engine turns so fast. See that it counts one mark a revolution, and that the machine card has the right "
        "rated speed; nothing is judged until then.",
    )
