"""Give to a pool of kitchens, learn from one, and use what others know.

A pool is a folder. What leaves is shown first: pairing pool contribute FOLDER --kitchen boathouse, then again with
--yes. Whoever keeps the pool makes a prior of it: pairing pool learn FOLDER --out prior.npz. A bench learns with it
from then on: pairing pool adopt prior.npz; pairing pool show tells what it knows, pairing pool adopt --drop ends it.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import WrongUsage, add_common, count, named, open_bench
from pairing.cli.output import Output
from pairing.errors import PoolError

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned.prior import Prior

_ABOUT: list[Any] = [
    ("response", "of"),
    ("block", "effects"),
    ("keys", "known"),
    ("kitchens", "kitchens behind each"),
    ("withheld", "withheld"),
]
SHOWN = 8


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the actions."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    give = actions.add_parser("contribute", help="show what would leave, then give it", description="Give cups.")
    give.add_argument("folder", type=named, metavar="FOLDER", help="the pool")
    give.add_argument(
        "--kitchen", type=named, required=True, help="a name for this kitchen that tells nobody who it is"
    )
    give.add_argument(
        "--id", dest="public", action="append", default=[], metavar="OWN=PUBLIC", help="what a pool calls it"
    )
    give.add_argument("--keep-home", action="append", default=[], metavar="OWN", help="cups with it stay at home")
    give.add_argument("--take-suggested", action="store_true", help="take the public ids that are suggested")
    give.add_argument("--as-is", action="store_true", help="what has no public id is public under its own")
    give.add_argument("--withdraw", action="store_true", help="take back what this kitchen gave")
    give.add_argument("--yes", action="store_true", help="give it; without this it is only shown")
    learn = actions.add_parser("learn", help="learn from a pool and write a prior", description="Learn from a pool.")
    learn.add_argument("folder", type=named, metavar="FOLDER", help="the pool")
    learn.add_argument("--out", type=named, metavar="FILE", default="prior.npz", help="the prior's file (prior.npz)")
    learn.add_argument("--min-kitchens", type=count, default=5, metavar="N", help="kitchens behind each effect (5)")
    learn.add_argument("--licence", default="", metavar="WORDS", help="on what terms the prior may be used")
    learn.add_argument("--skip-damaged", action="store_true", help="go on without kitchens that cannot be used")
    learn.add_argument("--resume", type=named, metavar="FOLDER", help="a work folder; a stopped run goes on from there")
    engine = learn.add_mutually_exclusive_group()
    engine.add_argument("--workers", type=count, metavar="N", help="so many processes here (needs the extra 'pooled')")
    engine.add_argument("--scheduler", metavar="ADDRESS", help="a Dask scheduler, tcp://…; its workers see the folders")
    show = actions.add_parser("show", help="what a prior knows", description="Show a prior.")
    show.add_argument("file", nargs="?", type=named, metavar="FILE", help="else the adopted one")
    adopt = actions.add_parser("adopt", help="learn with a prior from now on", description="Adopt a prior, or drop it.")
    adopt.add_argument("file", nargs="?", type=named, metavar="FILE", help="the prior")
    adopt.add_argument(
        "--id", dest="public", action="append", default=[], metavar="OWN=PUBLIC", help="what the pool calls it"
    )
    adopt.add_argument("--drop", action="store_true", help="use your own cups alone again")
    for sub in (give, learn, show, adopt):
        add_common(sub, again=True)


def run(args: argparse.Namespace, out: Output) -> int:
    """Do one of the actions."""
    return {"contribute": _contribute, "learn": _learn, "show": _show, "adopt": _adopt}[args.action](args, out)


def _named(words: list[str]) -> dict[str, str | None]:
    """Read ``own=public``."""
    found: dict[str, str | None] = {}
    for word in words:
        own, sign, public = word.partition("=")
        if not sign or not own.strip() or not public.strip():
            raise WrongUsage(f"--id is {word!r}", "write --id my-id=public-id")
        found[own.strip()] = public.strip()
    return found


def _contribute(args: argparse.Namespace, out: Output) -> int:
    bench = open_bench(args)
    if args.withdraw:
        files = bench.withdraw(args.folder, kitchen=args.kitchen)
        out.value("withdrawn", files)
        out.say(f"{args.kitchen} is taken out of {args.folder}: {files} file{'' if files == 1 else 's'}.")
        return 0
    public = _named(args.public) | dict.fromkeys(args.keep_home)
    suggested = bench.suggest_public_ids(args.folder)
    if args.take_suggested:
        found = suggested[(suggested["public_id"] != "") & (suggested["why"] != "named")]
        public = dict(zip(found["own_id"], found["public_id"], strict=True)) | public
    if args.as_is:
        left = suggested[suggested["why"] == ""]["own_id"]
        public = dict(zip(left, left, strict=True)) | public
    try:
        leaves = bench.contribute(args.folder, kitchen=args.kitchen, public_ids=public or None, write=args.yes)
    except PoolError as error:
        unnamed = suggested[suggested["why"] != "named"]
        if "public id" in str(error) and len(unnamed):
            columns = [
                ("own_id", "yours"),
                ("name", "name"),
                ("public_id", "the pool's"),
                ("public_name", "name there"),
                ("why", "why"),
            ]
            out.table("suggested", unnamed, columns, title="What the pool may call yours")
        raise
    columns = [(name, name) for name in leaves.columns if leaves[name].notna().any()]
    out.table("leaves", leaves if out.json else leaves.head(SHOWN), columns, title=f"What leaves: {len(leaves)} rows")
    facts = leaves.attrs
    if facts["comparisons"]:
        sides = [(name, name) for name in facts["comparisons"][0]]
        out.table("comparisons", facts["comparisons"], sides, title="And of blind comparisons")
    out.value("cups", facts["cups"])
    out.value("kept_home", facts["kept_home"])
    out.value("written", args.yes)
    for own, n in facts["because"].items():
        out.say(f"{n} cup{'' if n == 1 else 's'} with {own} stay at home.")
    done = f"{facts['cups']} cups are in {args.folder} as {args.kitchen}, in place of what it gave before."
    out.say(
        done if args.yes else f"Nothing has left yet. {facts['cups']} cups would: the same again with --yes gives them."
    )
    return 0


def _learn(args: argparse.Namespace, out: Output) -> int:
    from pairing.pooling.fit import STAGES, learn_pooled

    with _engine(args) as engine, out.progress("Learning from the pool", len(STAGES)) as shown:
        pool = learn_pooled(
            args.folder,
            on_damaged="skip" if args.skip_damaged else "refuse",
            resume=args.resume,
            progress=lambda told: shown(told.done),
            **engine,
        )
    prior = pool.prior(min_kitchens=args.min_kitchens, licence=args.licence)
    path = prior.save(args.out)
    for file, why in pool.damaged:
        out.warn(f"left out: {file}: {why}")
    _tell(prior, out)
    out.value("prior", str(path))
    out.say(f"Written to {path} ({path.stat().st_size / 1000:.0f} kB). A bench uses it: pairing pool adopt {path}")
    return 0


@contextmanager
def _engine(args: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Who is asked: this process, workers here, or those of a scheduler."""
    if not args.workers and not args.scheduler:
        yield {}
        return
    try:
        from distributed import Client, LocalCluster
    except ImportError:
        raise PoolError("workers need Dask", "pip install 'drink-pairing-bench[pooled]'") from None
    if args.scheduler:
        with Client(args.scheduler, timeout="10s") as client:
            yield _of(client, max(len(client.nthreads()), 1))
        return
    here = LocalCluster(n_workers=args.workers, threads_per_worker=1, dashboard_address=None)
    with here as cluster, Client(cluster) as client:
        yield _of(client, args.workers)


def _of(client: Any, workers: int) -> dict[str, Any]:
    mapper: Callable[..., Any] = client.get_executor(retries=3, pure=False).map
    return {"map": mapper, "tasks": 2 * workers}


def _show(args: argparse.Namespace, out: Output) -> int:
    from pairing.learned.prior import Prior

    prior = Prior.load(args.file) if args.file else open_bench(args).adopted
    if prior is None:
        out.value("prior", None)
        out.say("This bench uses its own cups alone. To use what others know: pairing pool adopt FILE")
        return 0
    _tell(prior, out)
    if not args.file:
        bench = open_bench(args)
        _known_here(bench, prior, out)
        share = bench.learn().pool_share
        out.value("share", share)
        if share is not None:
            out.say(f"Your own cups say: what they expect counts {share[0]:.2f} times here (± {share[1]:.2f}).")
    return 0


def _tell(prior: Prior, out: Output) -> None:
    """Say what a prior is and what it knows."""
    facts = prior.facts
    out.value("facts", dict(facts))
    days = f", {facts['since'][:7]} to {facts['until'][:7]}" if facts.get("since") else ""
    out.say(
        f"From {facts['cups']} cups of {facts['kitchens']} kitchens{days}. Licence: {facts['licence'] or 'not told'}."
    )
    out.table("about", prior.about, _ABOUT)
    out.say(
        f"Withheld is what fewer than {facts['min_kitchens']} kitchens stand behind, or what one of them holds more "
        f"than {facts['most_of_one']:.0%} of."
    )


def _known_here(bench: Bench, prior: Prior, out: Output) -> None:
    """Say which of a bench's bases and flavourings a prior knows."""
    shelf = bench.shelf()
    for what, here in prior.known_on(shelf, bench.public_ids).items():
        out.value(f"known_{what}", here)
        out.say(f"It knows {len(here)} of your {len(getattr(shelf, what))} {what}.")


def _adopt(args: argparse.Namespace, out: Output) -> int:
    bench = open_bench(args)
    if args.drop == bool(args.file):
        raise WrongUsage("adopt takes a file, or --drop", "pairing pool adopt prior.npz")
    if args.drop:
        bench.adopt(None)
        out.value("adopted", None)
        out.say("Dropped: this bench uses its own cups alone.")
        return 0
    if args.public:
        bench.name_publicly(_named(args.public))
    bench.adopt(Path(args.file))
    prior = bench.adopted
    assert prior is not None
    out.value("adopted", args.file)
    _tell(prior, out)
    _known_here(bench, prior, out)
    out.say("From now on this bench learns with it. To end that: pairing pool adopt --drop")
    return 0
