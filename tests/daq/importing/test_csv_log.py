from __future__ import annotations

import itertools
import math
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import daq
from daq.cards.machine import MachineCard
from daq.errors import ImportLogError, OutputError, UsageError
from daq.importing.csv_log import LogItem, import_logs
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.recording.reader import read_recording
from daq.recording.writer import RecordingWriter
from daq.run.channels import card_of
from tests.daq.recording.builders import SESSION

VOLTS, SPEED = Quantity.AC_VOLTAGE, Quantity.ROTATIONAL_SPEED


def log(folder: Path, text: str, name: str = "log.csv") -> Path:
    path = folder / name
    path.write_text(text, "utf-8", newline="")
    return path


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("", None, "is empty"),
        ("   \n", None, "is empty"),
        ("time,volts\n", None, "no readings"),
        ("0.0,19.6\n0.4,19.7\n", 1, "no header"),
        ("2026-05-04T10:00:00,19.6\n", 1, "no header"),
        ("time\n0\n", 1, "no two columns"),
        ("time,volts\n0,19.6\n1,nineteen\n", 3, "'nineteen' is no number"),
        ("time,volts\n0,19.6\nx,19.6\n", 3, "'x' is no time"),
        ("time,volts\n1,19.6\n0.5,19.7\n", 3, "runs backwards"),
        ("time,volts\n0,19.6\n2026-05-04T10:00:00,19.6\n", 3, "others are seconds"),
        ('time,volts\n0,"19.6"x\n', 2, "check the quotes"),
        ("time,volts\n0,1e999\n", 2, "'1e999' is no number"),
    ],
)
def test_a_bad_log_is_one_sentence_and_leaves_nothing(
    tmp_path: Path, text: str, line: int | None, words: str
) -> None:
    out = tmp_path / "out.jsonl"
    with pytest.raises(ImportLogError) as caught:
        import_logs(out, [LogItem(VOLTS, log(tmp_path, text))], None, force=False)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.line == line
    assert sorted(p.name for p in tmp_path.iterdir()) == ["log.csv"]


def taken(path: Path, column: str | None = None) -> tuple[list[float], list[float]]:
    """Times in seconds and values of what import makes of a log."""
    out = path.with_suffix(".jsonl")
    import_logs(out, [LogItem(VOLTS, path, column)], None, force=True)
    recording = read_recording(out)
    assert recording.complete
    got = recording.columns(0)
    return (got.t_ns / 1e9).tolist(), got.value.tolist()


def test_bytes_that_are_no_text_are_told(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(b"time,volts\n0,\xff\xfe\n")
    with pytest.raises(ImportLogError, match=r"log\.csv, line 2: 'ÿþ' is no number"):
        taken(path)
    path.write_bytes(b"time,volts\n0,\0\0\n")
    with pytest.raises(ImportLogError, match="no text file"):
        taken(path)


def test_a_column_that_is_not_there_is_told_with_those_that_are(tmp_path: Path) -> None:
    path = log(tmp_path, "time,volts,rpm,n,N\n0,1,2,3,4\n")
    for wanted in ("speed", "time", "1", "6", ""):
        with pytest.raises(ImportLogError, match=rf"no column '{wanted}'.*'volts', 'rpm', 'n', 'N'"):
            taken(path, wanted)
    assert [taken(path, c)[1] for c in (None, "rpm", "RPM", " rpm", "3", "N")] == [
        [1],
        [2],
        [2],
        [2],
        [2],
        [4],
    ]


def test_a_name_that_occurs_twice_is_asked_for_by_number(tmp_path: Path) -> None:
    path = log(tmp_path, "time,v,v\n0,1,2\n")
    with pytest.raises(ImportLogError, match="more than one column 'v'; give the number"):
        taken(path, "v")
    assert taken(path, "3")[1] == [2.0]


@pytest.mark.parametrize(
    "text",
    [
        "time,volts\r\n0,1.5\r\n1,2.5\r\n",
        "time,volts\r0,1.5\r1,2.5\r",
        "time\tvolts\n0\t1.5\n1\t2.5",
        "time;volts\n0;1,5\n1;2,5\n",
        "time;volts, rms\n0;1.5\n1;2.5\n",
        "time;volts;note\n0,0;1,5;a, b\n1,0;2,5;\n",
        '"time, s","volts"\n"0","1.5"\n1,"2.5"\n',
        "\ufefftime,volts\n0,1.5\n\n1,2.5\n",
        "\n\ntime,volts\n\n0,1.5\n1,2.5\n\n",
        "time,volts,\n0,1.5,\n1,2.5,,\n",
        "time [ms],volts\n0,1.5\n1000,2.5\n",
        "t_us,U (mV)\n0,1500\n1e6,2500\n",
        "time_min,u_kV\n0,0.0015\n0.016666666666666667,0.0025\n",
    ],
)
def test_the_ways_devices_write_tables(tmp_path: Path, text: str) -> None:
    assert taken(log(tmp_path, text)) == ([0.0, 1.0], [1.5, 2.5])


@pytest.mark.parametrize("encoding", ["utf-16", "cp1252", "utf-8-sig"])
def test_the_encodings_devices_write(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes("Zeit;Temperatur °C\n0;1,5\n1;2,5\n".encode(encoding))
    assert taken(path, "temperatur °c") == ([0.0, 1.0], [1.5, 2.5])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("t;v\n0;1,5\n1;2.5\n", "line 3: '2.5' has a decimal point where this log has a comma"),
        ("t;v\n0.5;1\n1;2,5\n", "line 3: '2,5' has a decimal comma where this log has a point"),
        ("t\tv\n0.5\t1\n1,5\t2\n", "line 3: '1,5' has a decimal comma where this log has a point"),
        ("t,v\n1,5,20,3\n", "line 2: it has 4 columns, the header has 2; where decimals have a comma"),
        ("t;v\n0;1.234,5\n", "'1.234,5' is no number"),
        ("t,v\n0,1_0\n", "'1_0' is no number"),
        ("t,v\n0,0x10\n", "'0x10' is no number"),
        ("t,v\n0,inf\n", "'inf' is no number"),
        ("t,v\n0,LO\n", "'LO' is no number"),
        ("t,v\n0,\u0661\n", "'\u0661' is no number"),
        ("t,v\n0,=1+1\n", "'=1\\+1' is no number"),
        ("t,v\n,1\n", "line 2: the time is missing"),
        ("t,v\n0,1\n1e30,1\n", "line 3: the time 1e30 can't be right"),
        ("t,v\n0001-01-01,1\n", "the year 1 can't be right"),
        ("t,v\n2026-05-04T10:00,1\n2026-05-04T10:00Z,1\n", "line 3: .*written another way"),
        ("t,v\n2026-05-04T10:00:01,1\n2026-05-04T10:00,1\n", "line 3: the time runs backwards"),
        ('t,v\n0,"1\n', "check the quotes"),
        ("t,v\n0,\x1b[2J\n", "'\ufffd\\[2J' is no number"),
        ("t,v\n0," + "9" * 500 + "\n", "is no number that a reading can have"),
        ("t,v\n0," + "9" * 200_000 + "\n", "field larger"),
    ],
)
def test_what_can_not_be_right_is_told_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(ImportLogError, match=words) as refused:
        taken(log(tmp_path, text))
    assert str(refused.value).isprintable()
    assert len(str(refused.value)) < 300


def test_no_log_and_no_ordinary_file_are_told(tmp_path: Path) -> None:
    with pytest.raises(ImportLogError, match=r"gone\.csv can't be read: No such file"):
        taken(tmp_path / "gone.csv")
    with pytest.raises(ImportLogError, match="no ordinary file"):
        import_logs(tmp_path / "out.jsonl", [LogItem(VOLTS, tmp_path)], None, force=False)


def test_overload_as_instruments_write_it_is_no_value(tmp_path: Path) -> None:
    """SCPI-99, volume 1, 7.2.1.4 and 7.2.1.5 (CHECKS.md W1)."""
    out = tmp_path / "out.jsonl"
    text = "t,v\n0,9.9E37\n1,-9.90000000E+37\n2,9.91E37\n3,20\n"
    import_logs(out, [LogItem(VOLTS, log(tmp_path, text))], None, force=False)
    got = read_recording(out).columns(0)
    assert [math.isnan(v) for v in got.value] == [True, True, True, False]
    assert got.quality.tolist() == [Quality.OVERLOAD, Quality.OVERLOAD, Quality.NOT_A_NUMBER, Quality.GOOD]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(0, 10**10), min_size=1, max_size=30),
    st.lists(
        st.none() | st.floats(-1e5, 1e5, allow_subnormal=False).filter(lambda v: v == 0.0 or abs(v) >= 1e-30),
        min_size=30,
        max_size=30,
    ),
    st.sampled_from([",", ";", "\t"]),
)
def test_every_reading_comes_through_and_none_is_added(
    tmp_path_factory: pytest.TempPathFactory, steps_ns: list[int], values: list[float | None], delimiter: str
) -> None:
    folder = tmp_path_factory.mktemp("log")
    times = list(itertools.accumulate(steps_ns))
    rows = [
        f"{t // 10**9}.{t % 10**9:09d}{delimiter}{'' if v is None else repr(v)}"
        for t, v in zip(times, values, strict=False)
    ]
    path = log(folder, f"t{delimiter}v\n" + "\n".join(rows) + "\n")
    out = folder / "out.jsonl"
    import_logs(out, [LogItem(VOLTS, path)], None, force=False)
    got = read_recording(out).columns(0)
    assert got.t_ns.tolist() == [time_ns // 1000 * 1000 for time_ns in times]
    assert [None if math.isnan(v) else v for v in got.value.tolist()] == values[: len(times)]


def test_an_empty_cell_is_a_missing_reading(tmp_path: Path) -> None:
    out = tmp_path / "out.jsonl"
    import_logs(out, [LogItem(VOLTS, log(tmp_path, "t,v\n0,1\n1,\n2,3\n3\n"))], None, force=False)
    column = read_recording(out).columns(0)
    assert [None if math.isnan(v) else v for v in column.value] == [1.0, None, 3.0, None]
    assert column.t_ns.tolist() == [0, 10**9, 2 * 10**9, 3 * 10**9]


@pytest.mark.parametrize(
    ("first", "unit"),
    [("2026-05-04T10:00:00+02:00", "iso"), ("1777881600", "s"), ("1777881600000", "ms")],
)
def test_dates_set_the_start_of_the_session(tmp_path: Path, first: str, unit: str) -> None:
    out = tmp_path / "out.jsonl"
    import_logs(out, [LogItem(VOLTS, log(tmp_path, f"t,v\n{first},1\n"))], None, force=False)
    recording = read_recording(out)
    assert recording.start.isoformat() == "2026-05-04T08:00:00+00:00", unit
    assert recording.complete


def test_a_file_that_is_there_stays_unless_forced(tmp_path: Path) -> None:
    out = log(tmp_path, "mine", "out.jsonl")
    item = LogItem(VOLTS, log(tmp_path, "t,v\n0,1\n"))
    with pytest.raises(OutputError, match="--force"):
        import_logs(out, [item], None, force=False)
    assert out.read_text() == "mine"
    with pytest.raises(ImportLogError):
        import_logs(out, [LogItem(VOLTS, tmp_path / "none.csv")], None, force=True)
    assert out.read_text() == "mine"
    import_logs(out, [item], None, force=True)
    assert read_recording(out).readings == 1


def test_microseconds_of_iso_times_are_kept(tmp_path: Path) -> None:
    rows = (
        "2026-05-04T10:00:00.123456789Z,1\n2026-05-04T12:00:00.1234567899+02:00,2\n2026-05-04 10:00:01Z,3\n"
    )
    out = tmp_path / "out.jsonl"
    import_logs(out, [LogItem(VOLTS, log(tmp_path, "t,v\n" + rows))], None, force=False)
    recording = read_recording(out)
    assert recording.start.isoformat() == "2026-05-04T10:00:00.123456+00:00"
    assert recording.columns(0).t_ns.tolist() == [0, 0, 876_544_000]


@pytest.mark.parametrize("between", ["\x1b", "\x15", "\u202e", "x", "\xa0"])
def test_nothing_but_a_t_or_a_space_parts_date_and_time(tmp_path: Path, between: str) -> None:
    rows = f"2026-05-04T10:00:02Z,1\n2026-05-04{between}10:00:01Z,2\n"
    path = log(tmp_path, "t,v\n" + rows)
    with pytest.raises(ImportLogError, match="line 3: .* is no time") as told:
        import_logs(tmp_path / "out.jsonl", [LogItem(VOLTS, path)], None, force=False)
    assert str(told.value).isprintable()


def test_dated_logs_keep_their_distance_and_merge_in_time(tmp_path: Path) -> None:
    volts = log(tmp_path, "t,v\n2026-05-04T10:00:01Z,1\n2026-05-04T10:00:03Z,2\n", "v.csv")
    speed = log(tmp_path, "t,n\n1777888800.5,3000\n1777888802,3100\n", "n.csv")
    out = tmp_path / "out.jsonl"
    import_logs(out, [LogItem(VOLTS, volts), LogItem(SPEED, speed)], None, force=False)
    recording = read_recording(out)
    assert recording.start.isoformat() == "2026-05-04T10:00:00.500000+00:00"
    assert recording.columns(0).t_ns.tolist() == [500_000_000, 2_500_000_000]
    assert recording.columns(1).t_ns.tolist() == [0, 1_500_000_000]
    lines = [line for line in out.read_text().splitlines() if line.startswith("[")]
    assert [line[1] for line in lines] == ["1", "0", "1", "0"]
    assert "clocks of the logs may differ" in recording.session.note


def test_logs_that_count_keep_their_own_times_and_the_hour_is_not_invented(tmp_path: Path) -> None:
    volts = log(tmp_path, "t,v\n12.5,1\n13,2\n", "a b (1).csv")
    speed = log(tmp_path, "t,n\n-2.5,3000\n0,3100\n", "n.csv")
    out = tmp_path / "out.jsonl"
    import_logs(out, [LogItem(VOLTS, volts), LogItem(SPEED, speed), LogItem(SPEED, speed)], None, force=False)
    recording = read_recording(out)
    # Moved by 2.5 s together, since no time may lie before the start: their distance stays as written.
    assert recording.columns(0).t_ns.tolist() == [15_000_000_000, 15_500_000_000]
    assert recording.columns(1).t_ns.tolist() == [0, 2_500_000_000]
    assert not recording.start_known
    assert "When it was is not known" in recording.session.note
    assert [c.instrument for c in recording.channels] == ["a-b-1", "n", "n-2"]
    assert recording.session.source == "import"
    assert recording.channels[0].card["name"] == "csv-log"


def test_the_machine_and_progress_and_what_makes_no_sense(tmp_path: Path) -> None:
    path = log(tmp_path, "t,v\n" + "".join(f"{i},20.{i}\n" for i in range(10_000)))
    seen: list[float] = []
    machine = MachineCard(name="m", title="m", rated_speed_rpm=3000.0)
    import_logs(tmp_path / "out.jsonl", [LogItem(VOLTS, path)], machine, force=False, progress=seen.append)
    recording = read_recording(tmp_path / "out.jsonl")
    assert recording.machine == machine
    assert recording.readings == 10_000
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    with pytest.raises(UsageError, match="from 1 to 1024 logs"):
        import_logs(tmp_path / "none.jsonl", [], None, force=False)
    with pytest.raises(UsageError, match="can't be imported as device_time"):
        import_logs(tmp_path / "none.jsonl", [LogItem(Quantity.DEVICE_TIME, path)], None, force=False)
    with pytest.raises(UsageError, match="is one of the logs"):
        import_logs(path, [LogItem(VOLTS, path)], None, force=True)


def test_a_recording_that_is_being_written_is_not_replaced(tmp_path: Path) -> None:
    item = LogItem(VOLTS, log(tmp_path, "t,v\n0,1\n"))
    with RecordingWriter.create(tmp_path / "out.jsonl", SESSION, force=False):
        with pytest.raises(OutputError, match="Another run is writing"):
            import_logs(tmp_path / "out.jsonl", [item], None, force=True)
    with pytest.raises(OutputError, match="There is no folder"):
        import_logs(tmp_path / "gone" / "out.jsonl", [item], None, force=False)


def test_a_disk_without_room_is_told_by_the_name_that_was_asked_for(tmp_path: Path) -> None:
    """A real limit of the operating system, in a process of its own."""
    path = log(tmp_path, "t,v\n" + "".join(f"{i},20\n" for i in range(5000)))
    code = (
        "import resource, sys\nfrom pathlib import Path\nfrom daq.errors import OutputError\n"
        "from daq.importing.csv_log import LogItem, import_logs\nfrom daq.model.quantity import Quantity\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]), resource.RLIM_INFINITY))\n"
        "try:\n    import_logs(Path(sys.argv[2]), [LogItem(Quantity.AC_VOLTAGE, Path(sys.argv[1]))], None, "
        "force=False)\nexcept OutputError as error:\n    print(error)\n"
    )
    for limit in ("10", "40000"):
        command = [sys.executable, "-c", code, str(path), str(tmp_path / "out.jsonl"), limit]
        told = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout
        assert told == "out.jsonl was not written: it would be larger than a file may be here.\n"
        assert [p.name for p in tmp_path.iterdir()] == ["log.csv"]


@pytest.mark.skipif(sys.platform == "win32", reason="what something else changed is not looked for there")
def test_a_draft_that_something_else_changed_is_told_by_the_name_that_was_asked_for(tmp_path: Path) -> None:
    path = log(tmp_path, "t,v\n" + "".join(f"{i},20\n" for i in range(9000)))

    def change(_: float) -> None:
        (draft,) = tmp_path.glob("*.part")
        with draft.open("a") as file:
            file.write("not ours\n")

    with pytest.raises(OutputError) as told:
        import_logs(tmp_path / "out.jsonl", [LogItem(VOLTS, path)], None, force=False, progress=change)
    assert str(told.value) == "out.jsonl was changed by something else and is not written any more."
    assert [p.name for p in tmp_path.iterdir()] == ["log.csv"]


def two_logs(folder: Path, speed: Callable[[float], float], apart_s: float) -> daq.RecordedRun:
    k = 28.0 / 3600.0
    volts = "t,v\n" + "".join(f"{0.4 * i:.2f},{k * speed(0.4 * i - apart_s):.2f}\n" for i in range(250))
    rpm = "t,n\n" + "".join(f"{0.5 * i:.1f},{speed(0.5 * i):.0f}\n" for i in range(200))
    out = folder / "out.jsonl"
    machine = MachineCard(name="m", title="m", rated_speed_rpm=3600.0, minimum_ac_voltage_v=20.0)
    items = [LogItem(VOLTS, log(folder, volts, "v.csv")), LogItem(SPEED, log(folder, rpm, "n.csv"))]
    import_logs(out, items, machine, force=False)
    return daq.open_recording(out)


def test_clocks_that_are_half_a_minute_apart_are_brought_together(tmp_path: Path) -> None:
    def uneven(t: float) -> float:
        return 2700.0 + 600.0 * math.sin(t / 7.0) + 300.0 * math.sin(t / 2.3)

    result = two_logs(tmp_path, uneven, 37.8).result()
    assert result.lag_s == pytest.approx(37.8, abs=0.02)
    assert result.rated_voltage_V == pytest.approx(28.0, abs=0.03)
    assert result.verdict == "pass"


def test_a_speed_that_repeats_itself_leaves_the_shift_ambiguous(tmp_path: Path) -> None:
    def even(t: float) -> float:
        return 2700.0 + 900.0 * math.sin(2.0 * math.pi * t / 30.0)

    result = two_logs(tmp_path, even, 10.0).result()
    assert result.lag_s is None
    assert any("ambiguous" in reason for reason in result.reasons)


@pytest.mark.parametrize("word", ["OL", "0L", "O.L", "-OL-", "ol", "Overload", "OVER"])
def test_over_range_is_kept_as_such(tmp_path: Path, word: str) -> None:
    out = tmp_path / "out.jsonl"
    import_logs(out, [LogItem(VOLTS, log(tmp_path, f"t,v\n0,1\n1,{word}\n2,3\n"))], None, force=False)
    column = read_recording(out).columns(0)
    assert column.quality.tolist() == [Quality.GOOD, Quality.OVERLOAD, Quality.GOOD]
    assert math.isnan(column.value[1])


@pytest.mark.parametrize(
    ("column", "cells", "digit"),
    [
        ("volts", ["20.00"], 0.01),
        ("volts", ["20"], 1.0),
        ("volts", ["20.5", "20.25", "20"], 0.01),
        ("volts", ["9.987", "20.02", "20.05", "20.00"], 0.01),
        ("volts (mV)", ["20000.0"], 0.0001),
        ("volts", ["2.000e1"], 0.01),
        ("volts", ["2E+1"], 1.0),
        ("volts", ["", "OL", "---"], None),
        ("volts", ["20.020000457763672"], None),
    ],
)
def test_the_last_digit_is_that_of_the_text(
    tmp_path: Path, column: str, cells: list[str], digit: float | None
) -> None:
    rows = "".join(f"{0.4 * i:.1f},{cells[i % len(cells)]}\n" for i in range(20))
    path = log(tmp_path, f"time,{column}\n{rows}")
    taken(path)
    entry = read_recording(path.with_suffix(".jsonl")).channels[0]
    found = card_of(entry)
    assert found is not None
    assert found.resolution == (None if digit is None else pytest.approx(digit))


def test_volts_that_stand_still_in_a_log_are_not_taken_for_whole_volts(tmp_path: Path) -> None:
    volts = log(tmp_path, "time,volts\n" + "".join(f"{0.4 * i:.1f},20.00\n" for i in range(100)))
    speed = log(tmp_path, "time,rpm\n" + "".join(f"{0.5 * i:.1f},3600\n" for i in range(80)), "speed.csv")
    out = tmp_path / "out.jsonl"
    machine = MachineCard(name="cart", title="Cart", rated_speed_rpm=3600.0, minimum_ac_voltage_v=19.7)
    import_logs(out, [LogItem(VOLTS, volts), LogItem(SPEED, speed)], machine, force=False)
    result = daq.open_recording(out).result()
    assert result.expanded_uncertainty_V == pytest.approx(0.01, abs=0.01)
    assert result.verdict == "pass"
    assert any("its last digit, 0.01 V," in reason for reason in result.reasons)


@pytest.mark.skipif(not Path("/proc/self/pagemap").exists(), reason="needs /proc as Linux has it")
@pytest.mark.parametrize("what", ["/proc/self/pagemap", "/proc/self/mem", "/proc/self/status", "/dev/zero"])
def test_what_the_system_makes_up_is_no_log(tmp_path: Path, what: str) -> None:
    """The first has no end, the second can't be read where it begins."""
    (tmp_path / "log.csv").symlink_to(what)
    with pytest.raises(ImportLogError, match=r"^log.csv is no ordinary file\.$"):
        import_logs(tmp_path / "out.jsonl", [(VOLTS, tmp_path / "log.csv", None)], None, force=False)
    assert [each.name for each in tmp_path.iterdir()] == ["log.csv"]


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="needs /proc as Linux has it")
def test_a_log_that_can_not_be_read_any_further_is_named(tmp_path: Path) -> None:
    """Not the recording, which is written at the same time. The log's descriptor becomes one that can't be read."""
    large = log(tmp_path, "time,volts\n" + "".join(f"{n},19.6\n" for n in range(40_000)))
    before = sorted(os.listdir("/proc/self/fd"))

    def breaking(_: float) -> None:
        (number,) = (fd for fd in Path("/proc/self/fd").iterdir() if leads_to(fd, large))
        with large.open("ab") as for_writing_alone:
            os.dup2(for_writing_alone.fileno(), int(number.name))

    with pytest.raises(ImportLogError, match=r"^log.csv can't be read: Bad file descriptor\.$"):
        import_logs(tmp_path / "out.jsonl", [(VOLTS, large, None)], None, force=False, progress=breaking)
    assert [each.name for each in tmp_path.iterdir()] == ["log.csv"]
    assert sorted(os.listdir("/proc/self/fd")) == before


def leads_to(fd: Path, path: Path) -> bool:
    try:
        return fd.samefile(path)
    except OSError:
        return False
