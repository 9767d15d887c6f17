"""Write the demo's season: who tasted what in the rowing club's kitchen, and the same start as untidy files.

``bases.csv``, ``flavourings.csv``, ``tasters.csv``, ``targets.csv`` and ``recipes.csv`` are written by hand.
``readings.csv``, ``calibrations.csv`` and ``messy/`` come from this script, which needs the source checkout: the
tasters' hidden truth lies with the tests, out of the package's reach. Run ``python demo_data/make.py``; the same tables
come out every time.
"""

from __future__ import annotations

import csv
import datetime as dt
import importlib.util
import itertools
import math
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import ModuleType
from typing import Any

HERE = Path(__file__).parent
COLUMNS = (
    "trial_id", "base_id", "flavouring_id", "amount", "base_g", "lot", "reading", "taster", "tasted_at", "session",
    "position", "blind", "strength", "liking", "likeness", "target_id", "off_notes", "reminds_of", "temperature_c",
    "minutes_since_addition", "mixing", "stepped", "ended", "note", "chosen_by", "glass",
)  # fmt: skip
PLAIN, SINGLES, PAIRS, TRIPLES, GLASSES = 4, 80, 70, 6, 9
"""Cups of each kind that the tasters chose; what is poured fresh after steps and what somebody insisted on is extra."""
UNCALIBRATED_DROP_MG = 23.0
MAX_STEPS = 9
MOST_DROPS = 20
"""More drops than this nobody counts: they are measured in ml."""
SMALLEST = {"drops": 0.1, "extract": 0.1, "syrup": 1.0, "paste": 1.0, "powder": 0.1}
"""What the syringe, the beaker and the scale can tell apart, ml or g."""
CUPS_A_SESSION = 8
EVENINGS = {"fridge": 6, "room": 20, "hot": 60}
"""How warm the cups of an evening are, °C."""
NEW_BOTTLE = ("vanilla", 14)
"""From this evening on there is a new bottle of it."""


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
    """One cup: what is in it, in g and as it was measured, and how it stands."""

    base_id: str
    base_g: float
    effect: float
    note: str
    chosen_by: str
    grams: dict[str, float] = field(default_factory=dict)
    amounts: dict[str, str] = field(default_factory=dict)
    ended: str = ""
    minutes: float = 0.0
    stepped: bool = False
    glass: str = "sip"

    def put(self, flavouring_id: str, measured: tuple[float, str]) -> None:
        """Have so much of a flavouring in the cup."""
        self.grams[flavouring_id], self.amounts[flavouring_id] = measured


@dataclass
class Season:
    """Cups drunk one after the other, from March to September."""

    shelf: Mapping[str, Mapping[str, str]]
    people: Mapping[str, Mapping[str, str]]
    truth: ModuleType
    rng: random.Random
    rows: list[dict[str, Any]] = field(default_factory=list)
    judged: list[tuple[int, Cup]] = field(default_factory=list)
    cups: int = 0
    session_effect: float = 0.0
    warmth: str = ""

    def cup(
        self,
        base_id: str,
        ids: Iterable[str],
        *,
        company: bool = False,
        fresh: bool = False,
        overnight: bool = False,
        target: bool = False,
        afresh: bool = False,
        steps: int = MAX_STEPS,
        share: float = 1.0,
        note: str = "",
        chosen_by: str = "own",
    ) -> None:
        """Pour one cup, step it up sip by sip, and write every reading down; a good end may be poured afresh."""
        cup = self._poured(base_id, note, chosen_by)
        chosen = sorted(ids)
        who = self._who(chosen)[0]
        for f in chosen:
            cup.put(f, self._start(f, cup.base_g, fresh=fresh, share=share))
        for step in range(1, steps + 1):
            words = self._sip(cup, who)
            more = {f: self._more(f, grams) for f, grams in cup.grams.items() if words[f] < 3}
            more = {f: measured for f, measured in more.items() if self._allowed(cup, f, measured[0])}
            spoilt = self.truth.curdles(base_id, self._doses(cup))
            if fresh or spoilt or not more or max(words.values()) == 5 or step == steps:
                cup.ended = self._ended(words, spoilt=spoilt)
                break
            self._write(cup, words, who, step)
            cup.stepped = True
            for f, measured in more.items():
                cup.put(f, measured)
        self._judge(cup, self._who(chosen) if company else [who], step, words, target=target)
        if overnight:
            late = replace(cup, note="kept in the fridge overnight", minutes=self.truth.FADING_NIGHT_MIN, stepped=False)
            self._write(late, self._sip(late, who), who, step + 1)
        self.cups += 1
        if afresh and cup.ended == "right":
            self.pour(cup, note="poured fresh to the dose that the steps found")

    def pour(self, like: Cup, *, glass: str = "sip", share: float = 1.0, note: str = "") -> None:
        """Pour a cup like another one, straight to its dose or to a share of it, for everybody who may drink it."""
        cup = replace(self._poured(like.base_id, note, "own"), glass=glass, grams={}, amounts={})
        for f, grams in like.grams.items():
            cup.put(f, self._measured(f, share * grams * cup.base_g / like.base_g))
        who = self._who(like.grams)
        words = self._sip(cup, who[0])
        cup.ended = self._ended(words, spoilt=self.truth.curdles(cup.base_id, self._doses(cup)))
        self._judge(cup, who, 1, words)
        self.cups += 1

    def _poured(self, base_id: str, note: str, chosen_by: str) -> Cup:
        if self.cups % CUPS_A_SESSION == 0:
            self.session_effect = self.rng.gauss(0.0, 0.2)
            self.warmth = self.rng.choice(("fridge", "fridge", "room", "room", "hot"))
        return Cup(base_id, float(self.rng.choice((180, 200, 220, 250))), self.rng.gauss(0.0, 0.12), note, chosen_by)

    def _who(self, ids: Iterable[str]) -> list[str]:
        """Return who may drink this, the one whose turn it is first."""
        turn = self.cups // CUPS_A_SESSION
        names = [self.truth.TASTERS[(turn + i) % len(self.truth.TASTERS)] for i in range(len(self.truth.TASTERS))]
        return [name for name in names if not any(self._avoids(name, f) for f in ids)]

    def _avoids(self, who: str, flavouring_id: str) -> bool:
        one, person = self.shelf[flavouring_id], self.people[who]
        allergens = {*one["allergens"].split(";")} & {*person["avoid_allergens"].split(";")}
        return bool(allergens - {"none"}) or (person["avoid"] == "ethanol" and float(one["ethanol_g_per_g"]) > 0)

    def _allowed(self, cup: Cup, flavouring_id: str, grams: float) -> bool:
        """Whether so much stays below the supplier's maximum: only once somebody did not look."""
        most = self.shelf[flavouring_id]["max_dose_g_per_kg"]
        return not most or "did not look" in cup.note or 1000 * grams / cup.base_g <= float(most)

    def _how(self, cup: Cup) -> Any:
        full = cup.glass == "full"
        return self.truth.How(cup.minutes, stepped=cup.stepped, temperature_c=EVENINGS[self.warmth], full=full)

    def _sip(self, cup: Cup, who: str) -> dict[str, int]:
        how = self._how(cup)
        return dict(self.truth.strength(cup.base_id, self._doses(cup), who, self.rng, cup=cup.effect, how=how))

    def _judge(
        self, cup: Cup, people: Sequence[str], reading: int, words: Mapping[str, int], *, target: bool = False
    ) -> None:
        for who in people:
            self._write(cup, words if who == people[0] else self._sip(cup, who), who, reading, target=target)
        self.judged.append((int(self.rows[-1]["liking"]), cup))

    def _write(self, cup: Cup, words: Mapping[str, int], who: str, reading: int, *, target: bool = False) -> None:
        session, position = divmod(self.cups, CUPS_A_SESSION)
        evening = dt.datetime(2025, 3, 4, 18, 30) + dt.timedelta(days=7 * session, minutes=6 * position + reading)
        context: dict[str, Any] = {
            "trial_id": f"c{self.cups + 1:03d}",
            "base_id": cup.base_id,
            "base_g": f"{cup.base_g:g}",
            "reading": reading,
            "taster": who,
            "tasted_at": (evening + dt.timedelta(minutes=cup.minutes)).isoformat(),
            "session": f"evening-{session + 1:02d}",
            "position": position + 1,
            "blind": "coded" if self.cups % 9 == 4 else "sighted",
            "temperature_c": EVENINGS["fridge" if cup.minutes else self.warmth],
            "minutes_since_addition": f"{cup.minutes or 2:g}",
            "mixing": self._mixing(cup.grams),
            "stepped": "yes" if cup.stepped else "no",
            "ended": cup.ended,
            "note": cup.note,
            "chosen_by": cup.chosen_by,
            "glass": cup.glass if cup.ended else "",
        }
        if cup.ended:
            context |= self._judgement(cup, who, target=target)
        if cup.glass == "full":
            context["note"] = "finished; again tomorrow" if context["liking"] > 6 else "finished"
        for flavouring_id in cup.grams or [""]:
            own: dict[str, Any] = {"flavouring_id": flavouring_id}
            if flavouring_id:
                own |= {"amount": cup.amounts[flavouring_id], "strength": words[flavouring_id]}
            if flavouring_id == NEW_BOTTLE[0]:
                own["lot"] = "V-07" if session >= NEW_BOTTLE[1] else "V-03"
            self.rows.append({**context, **own})

    def _judgement(self, cup: Cup, who: str, *, target: bool) -> dict[str, Any]:
        doses, effect = self._doses(cup), self.session_effect
        judged = {
            "liking": self.truth.score(cup.base_id, doses, who, self.rng, session=effect, how=self._how(cup)),
            "off_notes": self.truth.off_notes(cup.base_id, doses, self.rng, afterwards=not cup.stepped),
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

    # Amounts are measured as the kitchen does: up to 20 drops are counted, syrups and more drops by ml, the rest by g.

    def _drop_mg(self, flavouring_id: str) -> float:
        return float(self.shelf[flavouring_id]["drop_mg"] or UNCALIBRATED_DROP_MG)

    def _measured(self, flavouring_id: str, grams: float, more_than: float = 0.0) -> tuple[float, str]:
        """Return the nearest amount that can be measured out, in g and in words; more than what is there already."""
        form, drop_g = self.shelf[flavouring_id]["form"], self._drop_mg(flavouring_id) / 1000
        drops = max(1, round(grams / drop_g), math.floor(more_than / drop_g + 1.01))
        if form == "drops" and drops <= MOST_DROPS:
            return drops * drop_g, f"{drops} {'drop' if drops == 1 else 'drops'}"
        unit, g_per_unit = "g", 1.0
        if form in ("drops", "extract", "syrup"):
            unit, g_per_unit = "ml", float(self.shelf[flavouring_id]["density_g_per_ml"])
        smallest = SMALLEST[form]
        steps = max(1, round(grams / g_per_unit / smallest), math.floor(more_than / g_per_unit / smallest + 1.01))
        return steps * smallest * g_per_unit, f"{steps * smallest:.6g} {unit}"

    def _start(self, flavouring_id: str, base_g: float, *, fresh: bool, share: float) -> tuple[float, str]:
        wanted = self.truth.LABEL_G_PER_KG[flavouring_id] * base_g / 1000
        wanted *= math.exp(self.rng.gauss(0.1, 0.35)) if fresh else self.rng.uniform(0.35, 0.85)
        return self._measured(flavouring_id, wanted * share)

    def _more(self, flavouring_id: str, grams: float) -> tuple[float, str]:
        return self._measured(flavouring_id, grams * 1.35, more_than=grams)

    def _doses(self, cup: Cup) -> dict[str, float]:
        finished = cup.base_g + sum(cup.grams.values())
        return {f: 1000 * g / finished for f, g in cup.grams.items()}

    def _mixing(self, ids: Iterable[str]) -> str:
        return "hand blender" if any(self.shelf[f]["form"] in ("paste", "powder") for f in ids) else "spoon"


def play(season: Season) -> None:
    """Drink through the season: alone, in company, what somebody insisted on, late in it full glasses of the best."""
    rng, bases, ids = season.rng, season.truth.BASES, list(season.shelf)
    singles = [(b, (f,)) for f in ids for b in bases]
    rng.shuffle(singles)
    for base_id in bases[:PLAIN]:
        season.cup(base_id, (), company=True)
    for i, (base_id, one) in enumerate(singles[:SINGLES]):
        season.cup(base_id, one, fresh=i % 6 == 5, company=i % 4 == 3, afresh=i % 6 == 0)
    insist(season)
    pairs = [(b, p) for b in bases for p in itertools.combinations(ids, 2) if season._who(p)]
    wanted = [1.0 + 4.0 * (appeal(season, *pair) > 6) for pair in pairs]
    for i, (base_id, two) in enumerate(rng.choices(pairs, wanted, k=PAIRS)):
        random_cup = i % 4 == 2
        base_id, two = rng.choice(pairs) if random_cup else (base_id, two)  # noqa: PLW2901
        how: dict[str, Any] = {"fresh": i % 4 == 1, "company": i % 2 == 1, "afresh": i % 8 == 0}
        season.cup(base_id, two, chosen_by="random" if random_cup else "own", **how)
    best: dict[tuple[str, ...], Cup] = {}
    for _, cup in sorted(season.judged, key=lambda one: -one[0]):
        if cup.grams and cup.ended == "right":
            best.setdefault((cup.base_id, *cup.grams), cup)
    for cup in [*best.values()][:GLASSES]:
        season.pour(cup, glass="full", share=0.85)
    for _ in range(TRIPLES):
        season.cup(rng.choice(bases), rng.sample([f for f in ids if f not in ("black-sesame", "salt")], 3))


def appeal(season: Season, base_id: str, pair: Sequence[str]) -> float:
    """Say how a pair sounds to somebody who has only tasted its two flavourings alone."""
    alone = [season.truth.liking(base_id, {f: None}, "tova") for f in pair]
    return float(sum(alone) / len(alone) + season.rng.gauss(0.0, 0.8))


def insist(season: Season) -> None:
    """Pour the cups that the season is remembered for."""
    for note in ("still nothing", "still nothing", "still nothing: did not look at the maximum"):
        season.cup("pea", ["violet"], steps=12, note=note)
    for base_id, one in (("milk", "sea-buckthorn"), ("milk", "sea-buckthorn"), ("milk", "sour-plum")):
        season.cup(base_id, [one], note="looked at before tasting")
    for base_id in ("barley", "oat", "barley"):
        season.cup(base_id, ["cucumber"], overnight=True)
    for one in ("mint", "smoked-tea"):
        for base_id in ("oat", "milk", "barley"):
            season.cup(base_id, [one], company=True)
    for base_id in ("oat", "milk"):
        season.cup(base_id, ["salt", "sweet-leaf"], fresh=True, share=0.5, company=True, note="only seasoned")
    salted = (("date", "oat"), ("cocoa", "pea"), ("biscuit", "milk"), ("violet", "oat"), ("quince", "barley"))
    sweetened = (("sour-plum", "barley"), ("ginger", "oat"), ("date", "milk"), ("elderflower", "barley"))
    for helper, cups in (("salt", salted), ("sweet-leaf", sweetened)):
        for other, base_id in cups:
            season.cup(base_id, [helper, other])
    season.cup("oat", ["salt", "biscuit"], note="instead of the dates, which ran out")
    for pair, base_id in (
        ("cardamom quince", "oat"),
        ("bitter-orange smoked-tea", "pea"),
        ("cucumber lime-leaf", "barley"),
        ("cocoa ginger", "milk"),
    ):
        season.cup(base_id, pair.split(), company=True, afresh=True, note="again!")
    season.cup("pea", ["cocoa", "ginger"], company=True)
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
    tables = {}
    for name in ("flavourings", "tasters"):
        with (HERE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
            tables[name] = {next(iter(row.values())): row for row in rows}
    truth = load("demo_truth", HERE.parent / "tests" / "demo_truth.py")
    season = Season(tables["flavourings"], tables["tasters"], truth, random.Random("heron-lane-boathouse"))
    play(season)
    write(folder / "readings.csv", season.rows, COLUMNS)
    write(folder / "calibrations.csv", list(calibrations(season)), ("flavouring_id", "drops", "grams", "lot", "at"))


def untidy(folder: Path) -> None:
    """Write a part of the tables again as people really keep them."""
    load("untidy", HERE / "untidy.py").write_untidy(HERE, folder)


if __name__ == "__main__":
    make(HERE)
    untidy(HERE / "messy")
