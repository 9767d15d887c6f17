"""Times of the pairing graph: ``python pairing_graph.py``.

From a learned log to the graph, the structure for questions, each question, the picture and the files.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from simulated import make_palate

from pairing import learn
from pairing.graph.build import difference, graph
from pairing.graph.export import as_text
from pairing.graph.groups import bottles, go_betweens, groups
from pairing.graph.picture import picture
from pairing.graph.queries import Questions


def timed(what: str, job: Callable[[], Any], repeat: int = 3) -> Any:
    """Print the median time of a job; return what it made."""
    taken = []
    for _ in range(repeat):
        start = time.perf_counter()
        made = job()
        taken.append(time.perf_counter() - start)
    print(f"  {what:24} {1000 * statistics.median(taken):8.1f} ms")
    return made


def main() -> None:
    """Measure a graph of 100 flavourings from 2,000 trials and one of 500."""
    for n_flavourings, n_trials in ((100, 2000), (500, 6000)):
        palate = make_palate(1, n_bases=6, n_flavourings=n_flavourings)
        readings = palate.log(n_trials, np.random.default_rng(0))
        model = learn(palate.bases_df, palate.flavourings_df, readings, random_state=0)
        made = graph(model)
        print(f"{len(made)} flavourings, {made.number_of_edges()} pairs, {n_trials} trials")
        timed("graph", lambda model=model: graph(model))
        timed("graph of one base", lambda model=model, id_=palate.base_ids[0]: graph(model, id_))
        timed("difference of two bases", lambda model=model, ids=palate.base_ids: difference(model, *ids[:2]), 1)
        asked = timed("structure for questions", lambda made=made: Questions(made))
        one, two = palate.flavouring_ids[3], palate.flavouring_ids[-5]
        for name, ask in {
            "partners": lambda asked=asked, one=one: asked.partners(one),
            "between": lambda asked=asked, one=one, two=two: asked.between(one, two),
            "stand-ins": lambda asked=asked, one=one: asked.stand_ins(one),
            "gaps": lambda asked=asked: asked.gaps(),
            "groups": lambda asked=asked: groups(asked),
            "go-betweens": lambda asked=asked: go_betweens(asked),
            "bottles": lambda asked=asked: bottles(asked, 20),
        }.items():
            timed(name, ask)
        timed("picture", lambda made=made: picture(made))
        for name in ("csv", "json", "graphml", "gexf"):
            timed(name, lambda made=made, name=name: as_text(made, name), 1)


if __name__ == "__main__":
    main()
