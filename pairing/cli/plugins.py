"""Show every plugin in reach, how it fared, and what each rule expected and the log made of it."""

from __future__ import annotations

import argparse
import math
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.checking import tell_check
from pairing.cli.common import bench_path, ids, open_bench
from pairing.cli.extra import remember, unusable
from pairing.cli.load import tell
from pairing.cli.plugin_settings import tell_settings
from pairing.cli.trust import add_trust, tell_trust
from pairing.errors import LogError, StoreError
from pairing.model.constants import Z80
from pairing.store.database import is_url

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.cli.output import Output
    from pairing.host import Fault, Host

Columns = list[tuple[str, str] | tuple[str, str, Callable[[Any], str]]]
Weights = Mapping[str, Mapping[Any, Any]]
_UNITS = {"liking": "points", "dose": "log dose", "off-note": "log odds"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    about = "put bases or flavourings that plugins bring on the shelf of the bench, by id"
    parser.add_argument("--take", metavar="ID,…", type=ids, default=(), help=about)
    add_trust(parser)
    parser.add_argument("--settings", action="store_true", help="show what plugins let you set, and what is set")
    about = "set one: NAME.SETTING=VALUE, or NAME.SETTING.ID=VALUE; nothing behind the = takes it out"
    parser.add_argument("--set", action="append", default=[], metavar="NAME.SETTING=VALUE", help=about)
    about = "try a plugin before it is trusted: does it load, and keep to the contract of all that it brings"
    parser.add_argument("--check", metavar="FILE", help=about)
    parser.add_argument("--quick", action="store_true", help="do not learn: leave the learned weights out")


def run(args: argparse.Namespace, out: Output) -> int:
    """Load, learn when there is a bench, show."""
    if args.trust or args.editing:
        tell_trust(args, out)
    if args.check:
        return tell_check(args, out)
    if args.take:
        return _take(args, out)
    if args.set or args.settings:
        return tell_settings(args, out)
    bench = _bench(args, out)
    loaded = _without_bench(args) if bench is None else bench.host
    learned, curves, faults = ({}, None, ()) if bench is None or args.quick else _learned(bench, out)
    _show_plugins(out, loaded)
    remember(Path(bench_path(args)), loaded)
    _show_rules(out, loaded, learned)
    if curves is not None and len(curves):
        columns: Columns = [("rule", "rule"), ("along", "along"), ("part", "at"), ("weight", "learned", _weight)]
        units = [_pair(r["learned_mean"], r["learned_sd"], r["acts_on"]) for r in curves]
        rows = [{**row, "weight": unit} for row, unit in zip(curves, units, strict=True)]
        out.table("curves", curves, columns, shown=rows, title="Curves that were learned")
    told = (fault.line for fault in (*loaded.faults, *faults) if not (fault.note and fault.stage == "scoring"))
    lines = [*dict.fromkeys(told), *unusable(loaded)]
    out.value("faults", lines)
    for line in lines:
        out.warn(line)
    return 0


def _bench(args: argparse.Namespace, out: Output) -> Bench | None:
    there = os.path.isdir(bench_path(args)) or is_url(bench_path(args))
    try:
        return open_bench(args) if there else None
    except StoreError as error:
        if not args.quick:
            out.warn(f"learned weights are left out: {error}")
        return None


def _without_bench(args: argparse.Namespace) -> Host:
    from pairing.host import load

    folder = Path(bench_path(args))
    return load(folder if folder.is_dir() else None, args.plugins, args.strict_plugins)


def _take(args: argparse.Namespace, out: Output) -> int:
    """Copy what is named into the bench's own tables, where it stays whatever becomes of the plugin."""
    from pairing.host.taking import as_tables

    bench = open_bench(args)
    tables: dict[str, Any] = as_tables(bench.host, args.take)
    report = bench.load(**tables)
    tell(report, out)
    return 1 if len(report.refused) else 0


def _learned(bench: Bench, out: Output) -> tuple[Weights, Any, tuple[Fault, ...]]:
    """Return learned weights and curves, and what shows when the rules are tried on recipes of the shelf."""
    from pairing.host.trying import try_out

    faults = try_out(bench.host, bench.shelf())
    try:
        with out.progress("Learning from the log"):
            model = bench.learn()
    except (LogError, StoreError) as error:
        out.warn(f"learned weights are left out: {error}")
        return {}, None, faults
    weights = {str(row["rule"]): dict(row) for row in model.rule_weights().to_dict("records")}
    return weights, model.rule_curves().to_dict("records"), (*faults, *bench.host.misspelt(bench.shelf()))


def _show_plugins(out: Output, loaded: Host) -> None:
    records = [
        {
            "name": plugin.name,
            "version": plugin.version,
            "api": ".".join(map(str, plugin.api)) if plugin.api else None,
            "state": plugin.state,
            "hooks": [hook.removeprefix("pairing_") for hook in plugin.hooks],
            "objects": {hook.removeprefix("pairing_"): n for hook, n in plugin.objects.items()},
            "load_ms": 1000 * plugin.load_s,
            "reason": plugin.reason,
            "origin": plugin.origin,
        }
        for plugin in loaded.plugins
    ]
    columns: Columns = [
        ("name", "plugin"),
        ("version", "version"),
        ("api", "API"),
        ("state", "state"),
        ("objects", "brings", _objects),
        ("load_ms", "load, ms", lambda ms: f"{ms:.1f}"),
        ("reason", "reason"),
    ]
    out.table("plugins", records, columns, title="Plugins", empty="none found")


def _objects(objects: dict[str, int]) -> str:
    return ", ".join(f"{n} {name.rstrip('s') if n == 1 else name}" for name, n in objects.items() if n) or "–"


def _show_rules(out: Output, loaded: Host, learned: Weights) -> None:
    records = list(_rules(loaded, learned))
    columns: Columns = [
        ("rule", "rule"),
        ("acts_on", "acts on"),
        ("prior", "prior", _weight),
        ("learned", "learned", _weight),
        ("ms_per_1000", "ms / 1000 rows", lambda ms: f"{ms:.2f}"),
        ("summary", "summary"),
    ]
    out.table(
        "rules", records, columns, title="Rules: effect where it applies fully, expected and learned", empty="none"
    )


def _rules(loaded: Host, learned: Weights) -> Iterator[dict[str, Any]]:
    for rule in loaded.asked:
        weight = learned.get(rule.id, {})
        prior = _pair(rule.prior_mean, rule.prior_sd, rule.acts_on) if rule.acts_on in _UNITS else None
        found = _pair(weight["learned_mean"], weight["learned_sd"], rule.acts_on) if weight else None
        yield {
            "rule": rule.id,
            "acts_on": rule.acts_on,
            "prior": prior,
            "learned": found,
            "ms_per_1000": rule.clock.ms_per_1000,
            "needs": list(rule.needs),
            "column": rule.column,
            "summary": rule.summary,
            "source": rule.source,
        }


def _pair(mean: float, sd: float, acts_on: str) -> dict[str, Any] | None:
    return {"mean": mean, "sd": sd, "unit": _UNITS[acts_on]} if math.isfinite(mean) else None


def _weight(pair: dict[str, Any]) -> str:
    return f"{pair['mean']:+.2f} ± {Z80 * pair['sd']:.2f} {pair['unit']}"
