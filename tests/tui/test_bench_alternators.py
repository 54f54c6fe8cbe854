"""`spinvolt bench --alternator`: the kinds that the bench itself has, and what it says of a fault that can't be."""

from __future__ import annotations

import argparse
import json
import subprocess

from drivers.bench.kinds import KINDS
from drivers.bench.options import parse_options
from tui.commands import bench
from tui.commands.demo import configure as configure_demo


def parsed(*words: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    bench.configure(parser)
    return parser.parse_args(words)


def test_the_kinds_are_the_benchs_own_and_reach_it() -> None:
    assert tuple(KINDS) == bench.ALTERNATORS
    command = bench.bench_command(parsed("--alternator", "dc_only", "--fault", "open_diode", "--seed", "4"))
    options = parse_options(command[command.index("drivers.bench") + 1 :])
    assert (options.alternator, options.fault, options.seed) == ("dc_only", "open_diode", 4)


def test_a_demo_has_the_carts_alternator() -> None:
    parser = argparse.ArgumentParser()
    configure_demo(parser)
    command = bench.bench_command(parser.parse_args([]))
    assert command[-1] == "regulated"


def test_the_bench_runs_with_one_and_refuses_what_can_not_be() -> None:
    command = bench.bench_command(parsed("--alternator", "split"))
    run = subprocess.run(
        [*command, "--duration", "0.2"], capture_output=True, text=True, timeout=60, check=False
    )
    assert run.returncode == 0
    assert [json.loads(line)["card"] for line in run.stdout.splitlines()] == ["bench-meter", "bench-tach"]
    wrong = bench.bench_command(parsed("--alternator", "split", "--fault", "grounded_stator"))
    ran = subprocess.run(wrong, capture_output=True, text=True, timeout=60, check=False)
    assert ran.returncode == 2
    assert "A split alternator has no fault grounded_stator; it has: healthy," in ran.stderr
