"""Programs killed at a random moment of their work: 200 while logging, 25 of each other kind.

``python tests/benchmarks/store_kills.py`` prints how many left a bench that is whole; ``--share 0.1`` kills a tenth.
"""

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import killing

OFTEN = {"logging": 200}
ELSE = 25


def main() -> int:
    """Kill and count; 1 when a bench was not whole."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--share", type=float, default=1.0)
    parser.add_argument("--only", nargs="*", default=list(killing.WORKS))
    args = parser.parse_args()
    broken = 0
    for name in args.only:
        times, rounds, faults = max(1, round(args.share * OFTEN.get(name, ELSE))), [], []
        for seed in range(times):
            try:
                rounds.append(killing.killed(name, seed))
            except AssertionError as error:
                faults.append(f"seed {seed}: {error}")
        broken += len(faults)
        print(
            f"{name}: {times - len(faults)} of {times} whole, killed in rounds 0–{max(rounds, default=0)}", flush=True
        )
        for fault in faults:
            print(f"  {fault}")
    return int(broken > 0)


if __name__ == "__main__":
    sys.exit(main())
