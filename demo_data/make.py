"""Write the demo's season: who tasted what in the rowing club's kitchen, and the same start as untidy files.

``bases.csv``, ``flavourings.csv``, ``tasters.csv`` and ``targets.csv`` are written by hand. ``readings.csv``,
``calibrations.csv`` and ``messy/`` come from this script, which needs the source checkout: the tasters' hidden truth
lies with the tests, out of the package's reach. Run ``python demo_data/make.py``; the same tables come out every time.
"""

from __future__ import annotations

import csv
import datetime as dt
import importlib.util
import itertools
import math
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

HERE = Path(__file__).parent
COLUMNS = (
    "trial_id", "base_id", "flavouring_id", "amount", "base_g", "reading", "taster", "tasted_at", "session", "position",
    "blind", "strength", "liking", "likeness", "target_id", "off_notes", "reminds_of", "temperature_c",
    "minutes_since_addition", "mixing", "stepped", "ended", "note", "chosen_by",
)  # fmt: skip
PLAIN, SINGLES, PAIRS, TRIPLES = 4, 76, 98, 12
"""Cups of each kind that the tasters chose; the cups that somebody insisted on come on top."""
UNCALIBRATED_DROP_MG = 23.0
MAX_STEPS = 9
CUPS_A_SESSION = 8


def load(name: str, path: Path) -> ModuleType:
    """Load a module from its file: this script also runs where the package is not installed."""
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None or not path.exists():
        raise SystemExit(f"{path} is missing: the season can only be made in the source checkout")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@dataclass
class Cup:
    """One cup: what is in it, in the kitchen's own units, and how it stands."""

    base_id: str
    base_g: float
    effect: float
    note: str
    chosen_by: str
    units: dict[str, float] = field(default_factory=dict)
    ended: str = ""
    minutes: float = 0.0


@dataclass
class Season:
    """Cups drunk one after the other, from March to September."""

    shelf: Mapping[str, Mapping[str, str]]
    truth: ModuleType
    rng: random.Random
    rows: list[dict[str, Any]] = field(default_factory=list)
    cups: int = 0
    session_effect: float = 0.0

    def cup(
        self,
        base_id: str,
        ids: Iterable[str],
        *,
        company: bool = False,
        fresh: bool = False,
        overnight: bool = False,
        target: bool = False,
        steps: int = MAX_STEPS,
        note: str = "",
        chosen_by: str = "own",
    ) -> None:
        """Pour one cup, step it up sip by sip, and write every reading down."""
        if self.cups % CUPS_A_SESSION == 0:
            self.session_effect = self.rng.gauss(0.0, 0.2)
        who = self.truth.TASTERS[self.cups // CUPS_A_SESSION % len(self.truth.TASTERS)]
        cup = Cup(base_id, float(self.rng.choice((180, 200, 220, 250))), self.rng.gauss(0.0, 0.12), note, chosen_by)
        cup.units = {f: self._start(f, cup.base_g, fresh=fresh) for f in sorted(ids)}
        for step in range(1, steps + 1):
            words = self._sip(cup, who)
            spoilt = self.truth.curdles(base_id, self._doses(cup))
            enough = not words or min(words.values()) >= 3 or max(words.values()) == 5
            if fresh or spoilt or enough or step == steps:
                cup.ended = self._ended(words, spoilt=spoilt)
                break
            self._write(cup, words, who, step)
            cup.units = {f: self._more(f, amount) if words[f] < 3 else amount for f, amount in cup.units.items()}
        for person in self.truth.TASTERS if company else (who,):
            self._write(cup, words if person == who else self._sip(cup, person), person, step, target=target)
        if overnight:
            cup.note, cup.minutes = "kept in the fridge overnight", self.truth.FADING_NIGHT_MIN
            self._write(cup, self._sip(cup, who), who, step + 1)
        self.cups += 1

    def _sip(self, cup: Cup, who: str) -> dict[str, int]:
        doses = self._doses(cup)
        return dict(self.truth.strength(cup.base_id, doses, who, self.rng, cup=cup.effect, minutes=cup.minutes))

    def _write(self, cup: Cup, words: Mapping[str, int], who: str, reading: int, *, target: bool = False) -> None:
        session, position = divmod(self.cups, CUPS_A_SESSION)
        evening = dt.datetime(2025, 3, 4, 18, 30) + dt.timedelta(days=7 * session, minutes=6 * position + reading)
        context = {
            "trial_id": f"c{self.cups + 1:03d}",
            "base_id": cup.base_id,
            "base_g": f"{cup.base_g:g}",
            "reading": reading,
            "taster": who,
            "tasted_at": (evening + dt.timedelta(minutes=cup.minutes)).isoformat(),
            "session": f"evening-{session + 1:02d}",
            "position": position + 1,
            "blind": "coded" if self.cups % 9 == 4 else "sighted",
            "temperature_c": 8 if cup.base_id == "barley" else 14,
            "minutes_since_addition": f"{cup.minutes or 2:g}",
            "mixing": self._mixing(cup.units),
            "stepped": "yes" if reading > 1 and not cup.minutes else "no",
            "ended": cup.ended,
            "note": cup.note,
            "chosen_by": cup.chosen_by,
        }
        if cup.ended:
            context |= self._judgement(cup, who, target=target)
        for flavouring_id in cup.units or [""]:
            own: dict[str, Any] = {"flavouring_id": flavouring_id}
            if flavouring_id:
                amount = self._written(flavouring_id, cup.units[flavouring_id])
                own |= {"amount": amount, "strength": words[flavouring_id]}
            self.rows.append({**context, **own})

    def _judgement(self, cup: Cup, who: str, *, target: bool) -> dict[str, Any]:
        doses, effect = self._doses(cup), self.session_effect
        judged = {
            "liking": self.truth.score(cup.base_id, doses, who, self.rng, session=effect, minutes=cup.minutes),
            "off_notes": self.truth.off_notes(cup.base_id, doses, self.rng),
            "reminds_of": self.truth.reminds_of(doses) if cup.ended in ("right", "too strong") else "",
        }
        if target:
            judged |= {"likeness": self._likeness(doses), "target_id": "clubhouse-cake"}
        return judged

    def _likeness(self, doses: Mapping[str, float]) -> str:
        return f"{min(10, max(0, round(self.truth.likeness_to_cake(doses) + self.rng.gauss(0.0, 0.8))))}"

    def _ended(self, words: Mapping[str, int], *, spoilt: bool) -> str:
        if spoilt:
            return "spoiled"
        if words and max(words.values()) > 3:
            return "too strong"
        return "right" if not words or min(words.values()) == 3 else "not reached"

    # Amounts are counted as the kitchen does: whole drops, else millilitres of syrup, else grams.

    def _drop_mg(self, flavouring_id: str) -> float:
        return float(self.shelf[flavouring_id]["drop_mg"] or UNCALIBRATED_DROP_MG)

    def _unit_g(self, flavouring_id: str) -> float:
        form = self.shelf[flavouring_id]["form"]
        if form in ("drops", "extract"):
            return self._drop_mg(flavouring_id) / 1000
        return float(self.shelf[flavouring_id]["density_g_per_ml"]) if form == "syrup" else 1.0

    def _start(self, flavouring_id: str, base_g: float, *, fresh: bool) -> float:
        wanted = self.truth.LABEL_G_PER_KG[flavouring_id] * base_g / 1000 / self._unit_g(flavouring_id)
        wanted *= math.exp(self.rng.gauss(0.1, 0.35)) if fresh else self.rng.uniform(0.35, 0.85)
        return self._round(flavouring_id, wanted)

    def _more(self, flavouring_id: str, amount: float) -> float:
        return max(self._round(flavouring_id, amount * 1.35), amount + self._smallest(flavouring_id))

    def _smallest(self, flavouring_id: str) -> float:
        return {"syrup": 0.5, "paste": 0.5, "powder": 0.05}.get(self.shelf[flavouring_id]["form"], 1.0)

    def _round(self, flavouring_id: str, amount: float) -> float:
        smallest = self._smallest(flavouring_id)
        return round(max(1, round(amount / smallest)) * smallest, 2)

    def _written(self, flavouring_id: str, amount: float) -> str:
        unit = {"syrup": "ml", "paste": "g", "powder": "g"}.get(self.shelf[flavouring_id]["form"])
        return f"{amount:g} {unit or ('drop' if amount == 1 else 'drops')}"

    def _doses(self, cup: Cup) -> dict[str, float]:
        grams = {f: amount * self._unit_g(f) for f, amount in cup.units.items()}
        finished = cup.base_g + sum(grams.values())
        return {f: 1000 * g / finished for f, g in grams.items()}

    def _mixing(self, units: Iterable[str]) -> str:
        return "hand blender" if any(self.shelf[f]["form"] in ("paste", "powder") for f in units) else "spoon"


def play(season: Season) -> None:
    """Drink through the season: first alone, then in company, with the cups that somebody insisted on in between."""
    rng, bases, ids = season.rng, season.truth.BASES, list(season.shelf)
    singles = [(b, (f,)) for f in ids for b in bases]
    rng.shuffle(singles)
    for base_id in bases[:PLAIN]:
        season.cup(base_id, (), company=True)
    for i, (base_id, one) in enumerate(singles[:SINGLES]):
        season.cup(base_id, one, fresh=i % 6 == 5, company=i % 7 == 3)
    insist(season)
    pairs = [(b, p) for b in bases for p in itertools.combinations(ids, 2)]
    wanted = [1.0 + 4.0 * (appeal(season, *pair) > 6) for pair in pairs]
    for i, (base_id, two) in enumerate(rng.choices(pairs, wanted, k=PAIRS)):
        random_cup = i % 4 == 2
        base_id, two = rng.choice(pairs) if random_cup else (base_id, two)  # noqa: PLW2901
        season.cup(base_id, two, fresh=i % 6 == 1, company=i % 8 == 5, chosen_by="random" if random_cup else "own")
    for _ in range(TRIPLES):
        season.cup(rng.choice(bases), rng.sample(ids, 3))


def appeal(season: Season, base_id: str, pair: Sequence[str]) -> float:
    """Say how a pair sounds to somebody who has only tasted its two flavourings alone."""
    alone = [season.truth.liking(base_id, {f: None}, "tova") for f in pair]
    return float(sum(alone) / len(alone) + season.rng.gauss(0.0, 0.8))


def insist(season: Season) -> None:
    """Pour the cups that the season is remembered for."""
    for _ in range(3):
        season.cup("pea", ["violet"], steps=12, note="still nothing")
    for base_id, one in (("milk", "sea-buckthorn"), ("milk", "sea-buckthorn"), ("milk", "sour-plum")):
        season.cup(base_id, [one], note="looked at before tasting")
    for base_id in ("barley", "oat", "barley"):
        season.cup(base_id, ["cucumber"], overnight=True)
    for one in ("mint", "smoked-tea"):
        for base_id in ("oat", "milk", "barley"):
            season.cup(base_id, [one], company=True)
    salted = (("date", "oat"), ("cocoa", "pea"), ("biscuit", "milk"), ("violet", "oat"), ("quince", "barley"))
    sweetened = (("sour-plum", "barley"), ("ginger", "oat"), ("date", "milk"), ("elderflower", "barley"))
    for helper, cups in (("salt", salted), ("sweet-leaf", sweetened)):
        for other, base_id in cups:
            season.cup(base_id, [helper, other])
    for pair, base_id in (
        ("cardamom quince", "oat"),
        ("bitter-orange smoked-tea", "pea"),
        ("cucumber lime-leaf", "barley"),
    ):
        season.cup(base_id, pair.split(), company=True, note="again!")
    for ids in ("cardamom", "biscuit", "biscuit cardamom", "cardamom vanilla", "biscuit date", "vanilla"):
        season.cup("oat", ids.split(), target=True)


def calibrations(season: Season) -> Iterator[dict[str, Any]]:
    """Count and weigh drops of the bottles in daily use."""
    for i, (flavouring_id, drops) in enumerate((("sour-plum", 40), ("sour-plum", 40), ("salt", 30), ("vanilla", 60))):
        grams = drops * season._drop_mg(flavouring_id) / 1000 * math.exp(season.rng.gauss(0.0, 0.02))
        at = dt.datetime(2025, 3, 4, 17, 40) + dt.timedelta(minutes=10 * i)
        yield {"flavouring_id": flavouring_id, "drops": drops, "grams": f"{grams:.2f}", "lot": "", "at": at.isoformat()}


def write(path: Path, rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> None:
    """Write rows as CSV with line feeds."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def make(folder: Path) -> None:
    """Write the season's tables into a folder."""
    with (HERE / "flavourings.csv").open(encoding="utf-8", newline="") as file:
        shelf = {row["flavouring_id"]: row for row in csv.DictReader(file)}
    season = Season(
        shelf, load("demo_truth", HERE.parent / "tests" / "demo_truth.py"), random.Random("heron-lane-2025")
    )
    play(season)
    write(folder / "readings.csv", season.rows, COLUMNS)
    write(folder / "calibrations.csv", list(calibrations(season)), ("flavouring_id", "drops", "grams", "lot", "at"))


def untidy(folder: Path) -> None:
    """Write a part of the tables again as people really keep them."""
    load("untidy", HERE / "untidy.py").write_untidy(HERE, folder)


if __name__ == "__main__":
    make(HERE)
    untidy(HERE / "messy")
