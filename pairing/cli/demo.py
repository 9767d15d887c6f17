"""Show it all on an invented rowing club's kitchen: a demo bench, three suggestions per base, nothing to configure."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.care import show_cautions
from pairing.cli.common import count, learn
from pairing.cli.output import Output
from pairing.cli.recipes import show_suggestions
from pairing.errors import StoreError
from pairing.model.brief import Brief
from pairing.store.database import is_url
from pairing.store.places import is_free
from pairing_demo_data import PRIOR, files

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.answers import Suggestion

DEFAULT_FOLDER = "demo-bench"
MARK = "demo.txt"
"""File that tells the demo's bench from one of your own."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare how many suggestions are shown."""
    parser.add_argument("-n", type=count, default=3, metavar="N", help="suggestions per base (3)")
    parser.add_argument("--with-pool", action="store_true", help="learn with what 40 invented kitchens know")


def run(args: argparse.Namespace, out: Output) -> int:
    """Make or reuse the demo bench, learn, and suggest."""
    path = Path(args.bench or DEFAULT_FOLDER)
    bench = demo_bench(path, args, out)
    bench.adopt(PRIOR if args.with_pool else None)
    model = learn(args, bench, out)
    trials = bench.tables("readings")["trial_id"].nunique()
    shelf = model.shelf
    out.say(
        f"A rowing club's kitchen (invented): {trials} trials of {len(shelf.flavourings)} flavourings in "
        f"{len(shelf.bases)} bases, kept in {path}."
    )
    if args.with_pool:
        out.say(
            "It learns with what 40 other kitchens know, which are invented like this one: a prior for the demo only. "
            f"What it knows: pairing pool show --bench {path}"
        )
    out.value("with_pool", args.with_pool)
    out.value("bench", str(path))
    suggestions: list[Suggestion] = []
    for base in shelf.bases.values():
        found = model.suggest(Brief(bases=(base.base_id,)), n=args.n, random_state=0)
        title = f"\nTo try next in {base.name}"
        how = {"currency": bench.settings["currency"], "first": len(suggestions) + 1}
        show_suggestions(out, found, shelf, bench.settings["scale_g"], title=title, name=base.base_id, **how)
        suggestions += found
    show_cautions(out, [one.cautions for one in suggestions], model.shelf.names)
    out.say(f"\nGo on with: pairing suggest --bench {path} --max-added-kcal 20, or pairing dashboard --bench {path}")
    return 0


def demo_bench(path: Path, args: argparse.Namespace, out: Output) -> Bench:
    """Open the demo bench in a folder, or make it. A bench that is not the demo's is left alone.

    Raises
    ------
    StoreError
        When the folder holds something else.
    """
    from pairing.bench import Bench

    if is_url(args.bench):
        raise StoreError("the demo makes a folder, it leaves servers alone", "add --bench another-folder")

    mark = path / MARK
    if not mark.exists():
        if path.exists() and any(path.iterdir()):
            raise StoreError(
                f"{path} holds something of your own: the demo leaves it alone", "add --bench another-folder"
            )
        path.mkdir(parents=True, exist_ok=True)
        mark.write_text(
            "Made by pairing demo, which loads the demo's tables again whenever it runs.\n", encoding="utf-8"
        )
    bench = Bench.create(path) if is_free(path) else Bench.open(path)
    bench.choose_plugins(args.plugins, args.strict_plugins)
    with out.progress("Loading the demo's tables"):
        tables: dict[str, Any] = {**files()}
        report = bench.load(**tables)
    if len(report.refused):
        left = f"{len(report.refused)} rows of the demo differ from those in {path}, which were left as they are."
        out.warn(f"{left} A new one: pairing demo --bench another-folder")
    return bench
