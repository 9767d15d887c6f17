"""How good the predictions are, on cups of your own log that the model did not see, beside simpler ways of guessing."""

from __future__ import annotations

import argparse
import math
from typing import TYPE_CHECKING, Any

from pairing.cli.common import ids, learn, open_bench
from pairing.cli.output import Output
from pairing.model.constants import Z80

if TYPE_CHECKING:
    from pairing.learned import Learned


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what is held out, and which rules are left out."""
    about = "what to hold out: later cups, new combinations, new base, new taster (all that the log allows)"
    parser.add_argument("--splits", type=ids, metavar="A,B", help=about)
    about = "predict with and without each rule instead (learns anew for every rule; new combinations unless told)"
    parser.add_argument("--each-rule", action="store_true", help=about)
    about = "instead: how many trials the planner would have needed to find the best cup of your log"
    parser.add_argument("--plan", action="store_true", help=about)
    parser.add_argument("--without", type=ids, default=(), metavar="RULE,…", help="rules to do without")


def run(args: argparse.Namespace, out: Output) -> int:
    """Hold out, learn, compare."""
    from pairing.learned.evaluate import evaluate

    bench = open_bench(args)
    model = learn(args, bench, out)
    if args.plan:
        return _plan(model, out)
    if args.each_rule:
        return _each_rule(args, model, out)
    with out.progress("Learning without some cups", total=1.0) as done:
        found = evaluate(model, args.splits, without=args.without, baselines=bench.host.baselines, progress=done)
    for fault in found.faults:
        out.warn(fault.line)
    for sentence in found.sentences:
        out.say(sentence)
    out.value("sentences", found.sentences)
    out.table("likings", found.table, _columns(found.table), title="Error of liking, points (root mean square)")
    off: list[Any] = [("split", "held out"), ("additions", "doses"), ("model", "model", _off), ("label", "label", _off)]
    out.table("doses", found.doses, off, title="How far the needed dose was off, as a share of it")
    columns = [("predicted", "predicted liking", _two), ("observed", "given liking", _two), ("cups", "cups")]
    out.table("calibration", found.calibration, columns, title="What was predicted and what was given")
    return 0


def _plan(model: Learned, out: Output) -> int:
    from pairing.learned.fit import fit
    from pairing.learned.replay import replay

    with out.progress("Replaying your log", total=1.0) as done:
        found = replay(
            model,
            lambda log: fit(model.shelf, log, rules=model.rules, prior=model.prior, public_ids=model.public_ids),
            progress=done,
        )
    out.value("replay", found)
    out.say(f"{str(found)[:1].upper()}{str(found)[1:]}.")
    return 0


def _each_rule(args: argparse.Namespace, model: Learned, out: Output) -> int:
    from pairing.learned.each_rule import each_rule

    with out.progress("Learning without each rule", total=1.0) as done:
        splits = ("new combinations",) if args.splits is None else args.splits
        found = each_rule(model, splits, progress=done)
    columns = [
        ("rule", "rule"),
        ("split", "held out"),
        ("error_with", "error with it, points", _two),
        ("error_without", "without", _two),
        ("gain", "gain, squared", _three),
        ("gain_sd", "± gain (80 %)", _four_fifths),
        ("dose_error_with", "dose error with it, log", _three),
        ("dose_error_without", "without", _three),
    ]
    out.table("rules", found, columns, title="What each rule is worth on cups that were held out")
    return 0


def _columns(table: Any) -> list[tuple[Any, ...]]:
    shares = {"coverage": lambda share: f"{share:.0%}", "gain_sd": _four_fifths}
    headers = {"flavouring mean": "each flavouring's mean", "additive ridge": "sum of parts"}
    headers |= {
        "split": "held out",
        "chosen_by": "chosen by",
        "coverage": "in 80 % interval",
        "gain_sd": "± gain (80 %)",
    }
    plain = ("split", "chosen_by", "cups", "additions")
    return [
        (name, headers.get(name, name.replace("_", " ")), *([] if name in plain else [shares.get(name, _two)]))
        for name in map(str, table.columns)
    ]


def _four_fifths(sd: float) -> str:
    """Write the half width that holds in 80 of 100 cases."""
    return f"{Z80 * sd:.3f}"


def _off(log_error: float) -> str:
    return f"{math.expm1(log_error):.0%}"


def _three(value: float) -> str:
    return f"{value:.3f}"


def _two(value: float) -> str:
    return f"{value:.2f}"
