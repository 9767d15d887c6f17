"""How well the ladder finds the right dose of pairs of base and flavouring that were never tried.

After 150 random trials (6 bases, 24 flavourings, strength noise 0.18 log), ladders in never-tried cells: share of cups
that stop within e^±0.2 of the true needed dose, share that stop over it, sips, and the score, in − 0.5 × over − 0.1 ×
sips.
Beside it a fixed ladder of ×1.35 steps from half the label dose that stops at the first 'just right' or more.

    python tests/benchmarks/plan_ladder.py --palates 12 --cups 30
    python tests/benchmarks/plan_ladder.py --small    # cups of 60 to 400 g, a scale of 0.1 g, drops of 18 to 50 mg

It also counts pre-dilutions that were needless (whole drops or steps of the scale come into range of what was then
believed) or fruitless (the diluted amount does not), and advice that contradicts the last word.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import simulated

from pairing import Cup
from pairing.learned import Learned, learn_shelf
from pairing.model.answers import Advice
from pairing.model.shelf import Shelf
from pairing.plan.ladder import next_addition
from pairing.plan.scene import scene_of
from pairing.quantities.drops import drop_mass

SIP_G, BASE_G, MOST = 15.0, 250.0, 12
COUNTED = ("advices", "contradictions", "pre-dilutions", "needless", "fruitless")


def count(tally: Counter[str], model: Learned, cup: Cup, advice: Advice, word: int | None, scale_g: float) -> None:
    """Count what a person at the bench would shake the head at; ``word`` is the last one said, None before it."""
    tally["advices"] += 1
    adds = not (advice.stop or advice.again)
    if word is not None:
        weak_stop = word < 3 and advice.stop and not advice.paused
        tally["contradictions"] += weak_stop or (word >= 3 and adds) or (word > 3 and not advice.stop)
    if advice.dilute_first is None:
        return
    scene = scene_of(model, cup, advice.flavouring_id, None, True)
    drop_g = drop_mass(scene.flavouring).mg / 1000 if scene.flavouring.form == "drops" else scale_g
    doses = [scene.dose_with(n * step) for step in {drop_g, scale_g} for n in range(1, 400)]
    needed = math.exp(scene.belief.quantile(0.5))
    tally["pre-dilutions"] += 1
    tally["needless"] += any(abs(math.log(dose / needed)) <= 0.2 for dose in doses)
    tally["fruitless"] += abs(math.log(advice.target_g_per_kg / needed)) > 0.2


def planned(model, palate, cell, cup, rng, scale_g, tally):
    """Climb by the planner's advice; return the last dose and the number of sips."""
    base_id, flavouring_id = cell
    effect, word = palate.cup_sd * rng.standard_normal(), None
    for sips in range(MOST):
        advice = next_addition(model, cup, flavouring_id, scale_g=scale_g, override=True)
        count(tally, model, cup, advice, word, scale_g)
        if advice.stop:
            return cup.dose_g_per_kg[flavouring_id], sips
        cup = (cup if advice.again else cup.add(flavouring_id, g=advice.add_g)).sip(g=min(SIP_G, 0.05 * cup.content_g))
        dose = cup.dose_g_per_kg[flavouring_id]
        strength, _ = palate.taste(base_id, {flavouring_id: dose}, rng, cup_effect=effect, stepped=sips > 0)
        cup, word = cup.read(strength=strength), strength[flavouring_id]
    return cup.dose_g_per_kg[flavouring_id], MOST


def fixed(model, palate, cell, cup, rng, *_):
    """Climb by ×1.35 from half the label dose."""
    base_id, flavouring_id = cell
    dose = 0.5 * float(model.shelf.flavouring(flavouring_id).label_dose_g_per_kg or 1.0)
    effect = palate.cup_sd * rng.standard_normal()
    for sips in range(1, MOST + 1):
        strength, _ = palate.taste(base_id, {flavouring_id: dose}, rng, cup_effect=effect, stepped=sips > 1)
        if strength[flavouring_id] >= 3:
            return dose, sips
        dose *= 1.35
    return dose, MOST


def cells(palate: simulated.Palate, log, n: int, rng: np.random.Generator) -> list[tuple[str, str]]:
    """Cells of base and flavouring that no trial held."""
    tried = set(zip(log["base_id"], log["flavouring_id"], strict=True))
    left = [(b, f) for b in palate.base_ids for f in palate.flavouring_ids if (b, f) not in tried]
    return [left[i] for i in rng.choice(len(left), size=min(n, len(left)), replace=False)]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--palates", type=int, default=12)
    parser.add_argument("--cups", type=int, default=30)
    parser.add_argument("--trials", type=int, default=150)
    parser.add_argument("--cup-sd", type=float, default=0.0, help="effect that all sips of one cup share, log")
    parser.add_argument("--small", action="store_true", help="cups of 60 to 400 g, a scale of 0.1 g")
    args = parser.parse_args()
    scale_g, tally = (0.1 if args.small else 0.01), Counter[str]()
    found: dict[str, list[tuple[float, float, int]]] = {"planner": [], "fixed x1.35": []}
    for seed in range(args.palates):
        palate = simulated.make_palate(3000 + seed, strength_noise_sd=0.18, cup_sd=args.cup_sd)
        rng = np.random.default_rng([seed, 11])
        log = palate.log(args.trials, rng)
        model = learn_shelf(Shelf.from_tables(palate.bases_df, palate.flavourings_df), log)
        for i, cell in enumerate(cells(palate, log, args.cups, rng)):
            needed = palate.true_dose(*cell)
            mean, sd = model.dose_posterior([cell[0]], [(cell[1],)])
            known = (float(mean[0][0]) - math.log(needed)), float(sd[0][0])
            poured = float(rng.uniform(60, 400)) if args.small else BASE_G
            for name, climb in (("planner", planned), ("fixed x1.35", fixed)):
                own = np.random.default_rng([seed, 13, i])  # the same luck for both, and for another version
                cup = Cup(cell[0], base_g=poured, shelf=model.shelf, trial_id=f"{seed}-{i}")
                dose, sips = climb(model, palate, cell, cup, own, scale_g, tally)
                found[name].append((math.log(dose / needed), known[0], sips))
    print(f"never-tried cells after {args.trials} trials, {args.palates} palates, {len(found['planner'])} cups")
    print(f"{'':12s}{'in range':>9s}{'over':>7s}{'sips':>6s}{'score':>7s}{'± 80 %':>8s}")
    for name, rows in found.items():
        off, _, sips = (np.array(column) for column in zip(*rows, strict=True))
        score = (np.abs(off) <= 0.2) - 0.5 * (off > 0.2) - 0.1 * sips
        half = 1.28 * score.std(ddof=1) / math.sqrt(len(score))
        print(
            f"{name:12s}{100 * (np.abs(off) <= 0.2).mean():8.0f}%{100 * (off > 0.2).mean():6.0f}%{sips.mean():6.2f}"
            f"{score.mean():7.2f}{half:8.2f}"
        )
    print("the planner's " + ", ".join(f"{name} {tally[name]}" for name in COUNTED))
    errors = np.array([known for _, known, _ in found["planner"]])
    print(f"error of the needed dose before the first sip: {errors.std():.2f} log")


if __name__ == "__main__":
    main()
