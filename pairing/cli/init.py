"""Make a new, empty bench: a folder with the database that keeps bases, flavourings and every cup."""

from __future__ import annotations

import argparse

from pairing.cli.common import bench_path
from pairing.cli.output import Output

SUMMARY = "make a new, empty bench"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Nothing beyond ``--bench``."""


def run(args: argparse.Namespace, out: Output) -> int:
    """Create the bench; one that exists is refused, never overwritten."""
    from pairing.bench import Bench

    path = bench_path(args)
    Bench.create(path)
    out.value("bench", path)
    out.say(f"Made an empty bench in {path}.")
    out.say("Next: pairing load bases.csv flavourings.csv readings.csv (any of them, CSV, XLSX or Parquet).")
    return 0
