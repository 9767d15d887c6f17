"""Simulated palates: a hidden truth that tastes cups and fills logs, for tests and benchmarks.

Nothing of the package is used to make the truth, so that it can disagree with the package. Doses are in g of
flavouring per kg of finished drink; logarithms are natural. Sizes of effects are our own choice (no source): needed
doses spread by 0.46 log around the label, the liking of random combinations by some 1.5 points on the 9-point scale.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from simulated_truth import FAMILIES, affinities, bases_table, centred, flavourings_table, log_doses, pairs, symmetric

CUTS = (-1.5, -0.75, -0.22, 0.22, 0.7)
"""Log distance from the needed dose at which the strength word changes: 0|1, 1|2, 2|3, 3|4, 4|5."""
STEP = 1.35
MAX_STEPS = 10


@dataclass(frozen=True)
class Palate:
    """A kitchen with its hidden truth.

    ``average`` and what follows is the truth; read it through ``true_log_dose`` and ``true_liking``. Tables are as a
    person would hand them over; label doses are off.
    """

    seed: int
    bases_df: pd.DataFrame
    flavourings_df: pd.DataFrame
    tasters: tuple[str, ...]
    log_dose: list[list[float]]  # base × flavouring
    masking: list[list[float]]  # shift of a flavouring's log needed dose by a companion
    average: float
    base: list[float]
    flavouring: list[float]
    affinity: list[list[float]]  # base × flavouring
    pair: list[list[float]]
    pair_base: list[list[list[float]]]  # base × flavouring × flavouring
    crowd: float  # points per flavouring after the first
    under: float  # points per squared log unit below, above the needed dose
    over: float
    taster_offset: list[float]
    taster_slope: list[float]
    taster_flavouring: list[list[float]]
    taster_dose: list[float]  # shift of the log dose at which it is right for that taster
    stepped_offset: float  # shift of the perceived strength in a stepped cup
    liking_noise_sd: float
    strength_noise_sd: float
    cup_sd: float
    base_index: Mapping[str, int] = field(default_factory=dict)
    flavouring_index: Mapping[str, int] = field(default_factory=dict)

    @property
    def tasters_df(self) -> pd.DataFrame:
        return pd.DataFrame({"taster": list(self.tasters)})

    @property
    def base_ids(self) -> list[str]:
        return list(self.base_index)

    @property
    def flavouring_ids(self) -> list[str]:
        return list(self.flavouring_index)

    # --- the truth -------------------------------------------------------------------------------------------------

    def true_log_dose(self, base_id: str, flavouring_id: str, companions: Iterable[str] = ()) -> float:
        """Log of the dose that reads 'just right' for the average taster, g/kg."""
        f = self.flavouring_index[flavouring_id]
        shift = sum(self.masking[f][self.flavouring_index[c]] for c in companions if c != flavouring_id)
        return self.log_dose[self.base_index[base_id]][f] + shift

    def true_dose(self, base_id: str, flavouring_id: str, companions: Iterable[str] = ()) -> float:
        return math.exp(self.true_log_dose(base_id, flavouring_id, companions))

    def best_doses(self, base_id: str, flavouring_ids: Sequence[str]) -> dict[str, float]:
        return {f: self.true_dose(base_id, f, flavouring_ids) for f in flavouring_ids}

    def true_liking(self, base_id: str, doses: Mapping[str, float | None], taster: str | None = None) -> float:
        """True liking in [1, 9]; a dose of None is the needed dose; no taster is the equal-weight mean of all."""
        who = range(len(self.tasters)) if taster is None else (self.tasters.index(taster),)
        present = {f: d for f, d in doses.items() if d is None or d > 0}
        points, off = self._points(base_id, present), self._off_target(base_id, present)
        likings = []
        for t in who:
            own = self.average + self.taster_slope[t] * (points - self.average) + self.taster_offset[t]
            own += sum(self.taster_flavouring[t][self.flavouring_index[f]] for f in present)
            own -= sum(self._penalty(z - self.taster_dose[t] if z is not None else 0.0) for z in off)
            likings.append(min(9.0, max(1.0, own)))
        return sum(likings) / len(likings)

    def true_likings(self, recipes: Iterable[object], taster: str | None = None) -> np.ndarray:
        """True liking of many recipes: objects with ``base_id`` and ``doses``, or (base_id, doses) pairs."""
        pairs = [r if isinstance(r, tuple) else (r.base_id, r.doses) for r in recipes]  # type: ignore[attr-defined]
        return np.array([self.true_liking(base_id, doses, taster) for base_id, doses in pairs])

    def true_synergy(self, flavouring_a: str, flavouring_b: str, base_id: str | None = None) -> float:
        """Liking points of a pair beyond its flavourings and the base, crowding included."""
        a, b = self.flavouring_index[flavouring_a], self.flavouring_index[flavouring_b]
        where = range(len(self.base)) if base_id is None else (self.base_index[base_id],)
        return self.pair[a][b] - self.crowd + sum(self.pair_base[w][a][b] for w in where) / len(where)

    def combinations(self, max_flavourings: int = 2, base_id: str | None = None) -> list[tuple[str, tuple[str, ...]]]:
        """Every base with 1 … max_flavourings flavourings."""
        sets = [s for n in range(1, max_flavourings + 1) for s in itertools.combinations(self.flavouring_ids, n)]
        return [(b, s) for b in self.base_ids for s in sets if base_id in (None, b)]

    def optimum(self, base_id: str | None = None, max_flavourings: int = 2) -> tuple[str, tuple[str, ...], float]:
        """Base, flavourings and true liking of the best combination at its needed doses."""
        found = self.combinations(max_flavourings, base_id)
        likings = [self.true_liking(b, dict.fromkeys(s)) for b, s in found]
        best = int(np.argmax(likings))
        return (*found[best], likings[best])

    def untried(
        self, readings: pd.DataFrame, n: int, rng: np.random.Generator, max_flavourings: int = 2
    ) -> list[tuple[str, dict[str, None]]]:
        """``n`` combinations that the log never tried, at needed doses, as (base_id, doses of None)."""
        drunk = readings.dropna(subset="flavouring_id").groupby(["trial_id", "base_id"])["flavouring_id"]
        tried = {(base_id, tuple(sorted(set(ids)))) for (_, base_id), ids in drunk}
        left = [c for c in self.combinations(max_flavourings) if c not in tried]
        chosen = rng.choice(len(left), size=min(n, len(left)), replace=False)
        return [(left[i][0], dict.fromkeys(left[i][1])) for i in chosen]

    def _points(self, base_id: str, present: Iterable[str]) -> float:
        b = self.base_index[base_id]
        ids = [self.flavouring_index[f] for f in present]
        total = self.average + self.base[b] + sum(self.flavouring[f] + self.affinity[b][f] for f in ids)
        total += sum(self.pair[i][j] + self.pair_base[b][i][j] for i, j in itertools.combinations(ids, 2))
        return total - self.crowd * max(0, len(ids) - 1)

    def _off_target(self, base_id: str, present: Mapping[str, float | None]) -> list[float | None]:
        return [
            None if d is None else math.log(d) - self.true_log_dose(base_id, f, present) for f, d in present.items()
        ]

    def _penalty(self, z: float) -> float:
        return (self.over if z > 0 else self.under) * z * z

    # --- tasting ---------------------------------------------------------------------------------------------------

    def taste(
        self,
        base_id: str,
        doses: Mapping[str, float],
        rng: np.random.Generator,
        taster: str | None = None,
        *,
        cup_effect: float = 0.0,
        session_effect: float = 0.0,
        stepped: bool = False,
    ) -> tuple[dict[str, int], int]:
        """One sip: strength word (0–5) per flavouring and a whole-number liking (1–9)."""
        who = taster or self.tasters[0]
        t = self.tasters.index(who)
        shift = cup_effect - self.taster_dose[t] + (self.stepped_offset if stepped else 0.0)
        strength = {}
        for f, d in doses.items():
            if d <= 0:
                strength[f] = 0
                continue
            z = math.log(d) - self.true_log_dose(base_id, f, doses) + shift
            z += self.strength_noise_sd * rng.standard_normal()
            strength[f] = sum(z > cut for cut in CUTS)
        score = self.true_liking(base_id, doses, who) + session_effect + self.liking_noise_sd * rng.standard_normal()
        return strength, int(min(9, max(1, round(score))))

    def fresh_trial(
        self,
        trial_id: str,
        base_id: str,
        doses: Mapping[str, float],
        rng: np.random.Generator,
        taster: str | None = None,
        **context,
    ) -> list[dict]:
        """Rows of a cup poured straight to its doses and judged once."""
        effect = self.cup_sd * rng.standard_normal()
        session_effect = context.pop("session_effect", 0.0)
        strength, liking = self.taste(base_id, doses, rng, taster, cup_effect=effect, session_effect=session_effect)
        rows = self._rows(
            trial_id,
            base_id,
            doses,
            strength=strength,
            liking=liking,
            reading=1,
            taster=taster,
            stepped="no",
            context=context,
        )
        words = set(strength.values())
        ended = "right" if words <= {3} else "too strong" if words & {4, 5} else "not reached"
        return [{**row, "ended": ended} for row in rows]

    def ladder_trial(
        self,
        trial_id: str,
        base_id: str,
        flavouring_ids: Sequence[str],
        rng: np.random.Generator,
        taster: str | None = None,
        *,
        start: Mapping[str, float] | None = None,
        **context,
    ) -> list[dict]:
        """Rows of a cup stepped up from below by ×1.35 until every flavouring reads 'just right' or more.

        Starts at 0.3–0.8 of the label dose unless ``start`` gives doses; only the last of its readings is liked.
        """
        label = self.flavourings_df["label_dose_g_per_kg"].to_numpy()
        if start is None:
            start = {f: label[self.flavouring_index[f]] * rng.uniform(0.3, 0.8) for f in flavouring_ids}
        doses, effect, rows = dict(start), self.cup_sd * rng.standard_normal(), []
        session_effect = context.pop("session_effect", 0.0)
        for step in range(1, MAX_STEPS + 1):
            strength, liking = self.taste(
                base_id, doses, rng, taster, cup_effect=effect, session_effect=session_effect, stepped=step > 1
            )
            done = min(strength.values()) >= 3 or max(strength.values()) == 5 or step == MAX_STEPS
            stepped = "yes" if step > 1 else "no"
            rows += self._rows(
                trial_id,
                base_id,
                doses,
                strength=strength,
                liking=liking if done else None,
                reading=step,
                taster=taster,
                stepped=stepped,
                context=context,
            )
            if done:
                break
            doses = {f: d * STEP if strength[f] < 3 else d for f, d in doses.items()}
        words = set(strength.values())
        ended = "too strong" if words & {4, 5} else "right" if words == {3} else "not reached"
        return [{**row, "ended": ended} for row in rows]

    def log(
        self,
        n_trials: int,
        rng: np.random.Generator,
        *,
        share: Sequence[float] = (0.45, 0.45, 0.10),
        fresh: float = 0.2,
        prefix: str = "t",
    ) -> pd.DataFrame:
        """A log of random combinations: singles, pairs and triples by ``share``, a part of them poured fresh.

        Sessions of eight cups; tasters take turns.
        """
        label = self.flavourings_df["label_dose_g_per_kg"].to_numpy()
        sizes = rng.choice([1, 2, 3], size=n_trials, p=np.asarray(share) / sum(share))
        rows: list[dict] = []
        session_effect = 0.0
        for i in range(n_trials):
            session, position = divmod(i, 8)
            if position == 0:
                session_effect = 0.2 * rng.standard_normal()
            base_id = self.base_ids[rng.integers(len(self.base))]
            chosen = rng.choice(len(label), size=sizes[i], replace=False)
            ids = sorted(self.flavouring_ids[k] for k in chosen)
            context = {
                "session": f"s{session:03d}",
                "position": position + 1,
                "tasted_at": f"2024-{1 + session // 28 % 12:02d}-{1 + session % 28:02d}T18:{5 * position:02d}:00",
                "session_effect": session_effect,
                "chosen_by": "random",
            }
            name, taster = f"{prefix}{i:05d}", self.tasters[session % len(self.tasters)]
            if rng.random() < fresh:
                doses = {f: float(label[self.flavouring_index[f]] * math.exp(rng.normal(0.0, 0.35))) for f in ids}
                rows += self.fresh_trial(name, base_id, doses, rng, taster, **context)
            else:
                rows += self.ladder_trial(name, base_id, ids, rng, taster, **context)
        return pd.DataFrame(rows)

    def _rows(self, trial_id, base_id, doses, *, strength, liking, reading, taster, stepped, context) -> list[dict]:
        return [
            {
                "trial_id": trial_id,
                "base_id": base_id,
                "flavouring_id": f,
                "dose_g_per_kg": float(f"{d:.6g}"),
                "base_g": 250.0,
                "reading": reading,
                "taster": taster or self.tasters[0],
                "strength": strength[f],
                "liking": math.nan if liking is None else float(liking),
                "stepped": stepped,
                **context,
            }
            for f, d in doses.items()
        ]


def make_palate(
    seed: int,
    n_bases: int = 6,
    n_flavourings: int = 24,
    n_tasters: int = 1,
    *,
    liking_noise_sd: float = 0.9,
    strength_noise_sd: float = 0.22,
    cup_sd: float = 0.15,
) -> Palate:
    """Make a palate from a seed; the same seed and sizes give the same truth."""
    rng = np.random.default_rng([seed, n_bases, n_flavourings, n_tasters])
    bases, traits = bases_table(rng, n_bases)
    flavourings = flavourings_table(rng, n_flavourings)
    fat_loving = flavourings["fat_loving"].to_numpy()
    family = np.array([FAMILIES.index(f) for f in flavourings["family"]])
    n_t, n_f = n_tasters, n_flavourings
    tasters = ("me",) if n_t == 1 else tuple(f"taster-{i + 1}" for i in range(n_t))
    truth = {
        "log_dose": log_doses(rng, flavourings["label_dose_g_per_kg"].to_numpy(), traits[:, 0], fat_loving),
        "masking": np.clip(rng.normal(0.06, 0.08, (n_f, n_f)), -0.1, 0.3),
        "base": 0.45 * rng.standard_normal(n_bases),
        "flavouring": 0.6 * rng.standard_normal(n_f),
        "affinity": affinities(rng, traits, n_f),
        "pair": pairs(rng, family),
        "pair_base": np.array([symmetric(0.25 * rng.standard_normal((n_f, n_f))) for _ in range(n_bases)]),
        "taster_offset": centred(0.5 * rng.standard_normal(n_t)),
        "taster_slope": 1 + centred(0.15 * rng.standard_normal(n_t)),
        "taster_flavouring": centred(0.45 * rng.standard_normal((n_t, n_f))),
        "taster_dose": centred(0.12 * rng.standard_normal(n_t)),
    }
    return Palate(
        seed=seed,
        bases_df=bases,
        flavourings_df=flavourings,
        tasters=tasters,
        average=5.2,
        crowd=0.2,
        under=float(rng.uniform(1.3, 1.9)),
        over=float(rng.uniform(2.0, 2.8)),
        stepped_offset=0.05,
        liking_noise_sd=liking_noise_sd,
        strength_noise_sd=strength_noise_sd,
        cup_sd=cup_sd,
        base_index={b: i for i, b in enumerate(bases["base_id"])},
        flavouring_index={f: i for i, f in enumerate(flavourings["flavouring_id"])},
        **{name: value.tolist() for name, value in truth.items()},
    )
