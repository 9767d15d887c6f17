"""A pool of a million cups, streamed, beside the learner that holds all of them: time, memory, and what they say.

The cups are those of ``learn_large.py``; every taster is a kitchen. Each way runs in a process of its own.

    python tests/benchmarks/pool_million.py
    python tests/benchmarks/pool_million.py --cups 10000000 --ways pool   # growth; some 2 GB of disk
    python tests/benchmarks/pool_million.py --cups 100000 --strengths --ways alone pool dask
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

ASKED = 20_000
CUTS = (-1.5, -0.75, -0.22, 0.22, 0.7)


def with_strengths(readings: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Let every dose be judged: what is needed differs by base, flavouring, and their cell."""
    base, item = (pd.factorize(readings[name], sort=True)[0] for name in ("base_id", "flavouring_id"))
    n_b, n_f = base.max() + 1, item.max() + 1
    need = 0.2 * rng.standard_normal(n_b)[base] + 0.3 * rng.standard_normal(n_f)[item]
    need = need + 0.15 * rng.standard_normal((n_b, n_f))[base, item]
    dose = 0.5 * rng.standard_normal(len(readings))
    felt = dose - need + 0.25 * rng.standard_normal(len(readings))
    return readings.assign(dose_g_per_kg=2.0 * np.exp(dose), strength=(felt[:, None] > np.array(CUTS)).sum(axis=1))


def make(to: Path, n: int, strengths: bool) -> None:
    """Write the cups as a pool."""
    import learn_large

    bases, flavourings, readings = learn_large.tables(*learn_large.cups(n))
    if strengths:
        readings = with_strengths(readings, np.random.default_rng(1))
    to.mkdir(parents=True, exist_ok=True)
    bases.to_parquet(to / "bases.parquet")
    flavourings.to_parquet(to / "flavourings.parquet")
    for taster, own in readings.groupby("taster"):
        own = own.astype({name: "category" for name in ("base_id", "flavouring_id", "taster")})  # noqa: PLW2901
        folder = to / f"kitchen={taster}"
        folder.mkdir(exist_ok=True)
        own.to_parquet(folder / "part-0.parquet", compression="zstd", index=False)


def ask(model: Any) -> dict[str, list[float]]:
    """Ask for random recipes in the average kitchen, and for needed doses."""
    import learn_large

    from pairing.model.recipes import Recipes

    b, slots, _, _ = learn_large.cups(ASKED, seed=5)
    recipes = Recipes.at(b, slots)
    encoded = model.response.encode_recipes(recipes)
    liking, sd = model.liking.mean(encoded), model.liking.sd(encoded.take(slice(0, 2000)))
    doses = model.needed_dose()
    judged = doses["readings"] > 0
    return {
        "liking": liking.tolist(),
        "sd": sd.tolist(),
        "dose": np.log(doses["dose_g_per_kg"])[judged].tolist(),
        "dose_sd": doses["log_sd"][judged].tolist(),
    }


def run(way: str, folder: Path, to: Path) -> None:
    """Learn one way and write what is found."""
    import pairing

    start = time.process_time()
    wall = time.perf_counter()
    if way == "alone":
        bases, flavourings = (pd.read_parquet(folder / f"{name}.parquet") for name in ("bases", "flavourings"))
        files = sorted(folder.glob("kitchen=*/*.parquet"))
        readings = pd.concat(
            [pd.read_parquet(f).astype({"base_id": str, "flavouring_id": str, "taster": str}) for f in files]
        )
        start, wall = time.process_time(), time.perf_counter()  # the pool reads its files, this gets its tables
        model: Any = pairing.learn(bases, flavourings, readings.reset_index(drop=True))
        model.liking.posterior.deviations  # noqa: B018 - a pool has its draws when it is learned
    elif way == "pool":
        model = pairing.learn_pooled(folder)
    else:
        from distributed import Client, LocalCluster

        with (
            LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
            Client(cluster) as client,
        ):
            model = pairing.learn_pooled(folder, map=client.get_executor(retries=3, pure=False).map, tasks=2)
    workers = resource.getrusage(resource.RUSAGE_CHILDREN)
    told = {
        "cpu": time.process_time() - start + workers.ru_utime + workers.ru_stime,
        "wall": time.perf_counter() - wall,
    }
    told["gb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    to.write_text(json.dumps(told | ask(model)), encoding="utf-8")


def main() -> None:
    """Make the pool, learn each way, print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cups", type=int, default=1_000_000)
    parser.add_argument("--strengths", action="store_true", help="every dose is judged, too")
    parser.add_argument("--ways", nargs="+", default=["alone", "pool"], choices=["alone", "pool", "dask"])
    parser.add_argument("--one", nargs=3, metavar=("WAY", "FOLDER", "FILE"), help="used by itself")
    args = parser.parse_args()
    if args.one:
        run(args.one[0], Path(args.one[1]), Path(args.one[2]))
        return
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "folder"
        made = [sys.executable, "-c", "import sys; sys.path[:0] = sys.argv[1:2]; import pool_million as p; "
                "p.make(p.Path(sys.argv[2]), int(sys.argv[3]), bool(int(sys.argv[4])))"]  # fmt: skip
        here = str(Path(__file__).parent)
        subprocess.run([*made, here, str(folder), str(args.cups), str(int(args.strengths))], check=True)
        found = {}
        for way in args.ways:
            file = Path(scratch) / way
            subprocess.run([sys.executable, __file__, "--one", way, str(folder), str(file)], check=True)
            found[way] = json.loads(file.read_text())
            one = found[way]
            print(f"{way}: {one['cpu']:.1f} s processor, {one['wall']:.1f} s wall, peak {one['gb']:.2f} GB", flush=True)
        first, *others = args.ways
        for way in others:
            one, other = ({k: np.array(v) for k, v in found[w].items()} for w in (first, way))
            print(f"{way} ÷ {first}: {other['cpu'] / one['cpu']:.2f} processor")
            for what in ("liking", "dose"):
                if len(one[what]):
                    off = other[what] - one[what]
                    print(f"  {what} differs by {np.sqrt(np.mean(off**2)):.4f} rms, {np.abs(off).max():.4f} at most")
            for what in ("sd", "dose_sd"):
                if len(one[what]):
                    print(f"  spread ({what}) × {np.sqrt(np.mean(other[what] ** 2) / np.mean(one[what] ** 2)):.3f}")


if __name__ == "__main__":
    main()
