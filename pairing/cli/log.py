"""Log a cup in one line: what was poured and added, how strong it was, how it was liked.

For instance: pairing log oat --base-g 250 --add sour-plum=6drops --strength sour-plum=2 --add sour-plum=5drops
--strength sour-plum=3 --liking 7 --taster ana --ended right
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from pairing.cli.advised import advise
from pairing.cli.asking import add_yes, sure
from pairing.cli.bottles import check_lots
from pairing.cli.care import show_one, swallowed_today
from pairing.cli.common import WrongUsage, by_ids, ids, learn, number, open_bench
from pairing.cli.output import Output
from pairing.cli.steps import add_step_arguments, guesses, make_cup, poured_g, with_ids
from pairing.cli.trials import LAST, poured_again, short, trial_named
from pairing.errors import ConflictError, LogError
from pairing.model.columns import LIKING_WORDS, READINGS
from pairing.model.constants import SERVED_AT_C
from pairing.model.fields import amounts
from pairing.nutrition.dose_limit import high_doses
from pairing.safety.children import check_face, children, had_enough
from pairing.safety.people import CUPS_OF_A_CHILD

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf


_SAME = 1.01
"""A dose that is higher by less than this is the one of the earlier cup, and was answered for then."""
_REMEDY = (
    "check the unit and the decimal point; where it is right, say the same again with --yes (past 3 × the label it is "
    "kept as done on purpose)"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the cup and the judgement of its last reading."""
    parser.add_argument("base", nargs="?", metavar="BASE", help="the base poured; not needed with --again or --go-on")
    before = parser.add_mutually_exclusive_group()
    about = "pour this cup once more, freshly: its base and additions; an --add here is instead of what it held of that"
    before.add_argument("--again", metavar="TRIAL", help=f"{about} (the beginning of its id, or {LAST})")
    about = "go on with this cup: what is said here came after it, and is kept as a correction of it"
    before.add_argument("--go-on", metavar="TRIAL", help=about)
    add_step_arguments(parser, required=False)
    last = parser.add_argument_group("the last reading")
    scale = f"1 {LIKING_WORDS[0]} … 5 {LIKING_WORDS[4]} … 9 {LIKING_WORDS[8]}"
    last.add_argument("--liking", type=_number_or_word, metavar="1–9", help=f"{scale}; of a child the word of a face")
    last.add_argument(
        "--likeness", type=number, metavar="0–10", help="likeness to --target: 0 none, 10 cannot be told apart"
    )
    last.add_argument("--target", metavar="ID", help="the target that it was compared with")
    last.add_argument("--taster", help="who tasted (who tasted the earlier cup, else me)")
    last.add_argument(
        "--off-notes",
        metavar="NOTE:1–3;…",
        help="bitter:1; a minute after the swallow: sweet:2@aftertaste, or none@aftertaste",
    )
    about = "such as sweetness:4;body:3, 1 to 5 around 3 just right; plugins say which there are"
    last.add_argument("--attributes", metavar="NAME:1–5;…", help=about)
    last.add_argument("--reminds-of", metavar="WORDS")
    last.add_argument("--temperature-c", type=_warm, metavar="C", help=f"°C, or {', '.join(SERVED_AT_C)}")
    last.add_argument("--session", help="which tasting session")
    last.add_argument("--blind", choices=("sighted", "coded"))
    about = "how much was drunk before judging: a sip overrates sweetness and strength, a full glass tells"
    last.add_argument("--glass", choices=READINGS.by_name["glass"].choices, help=about)
    last.add_argument("--note")
    about = "flavourings that went past 3 × the label on purpose, kept in the note"
    parser.add_argument("--override", type=ids, default=(), metavar="ID,…", help=about)
    add_yes(parser)
    about = "also say what to do next with this cup, flavouring by flavouring (all that it holds)"
    parser.add_argument("--next", type=ids, nargs="?", const=(), metavar="ID,…", help=about)
    parser.add_argument("--ended", choices=READINGS.by_name["ended"].choices, help="how the trial ended")
    parser.add_argument("--chosen-by", choices=READINGS.by_name["chosen_by"].choices, help="who chose the recipe (own)")
    parser.add_argument(
        "--on-conflict",
        choices=("refuse", "revise"),
        default="refuse",
        help="what to do when the --trial-id is kept with another cup: revise corrects it, the old one stays in the "
        "history (refuse)",
    )
    parser.add_argument(
        "--trial-id", metavar="ID", help="a name for the trial; the same one again is not a second trial"
    )


def _warm(text: str) -> float:
    """Read how warm a cup is drunk: °C, or where it comes from."""
    found = SERVED_AT_C.get(text.strip().casefold())
    return number(text, "temperature_c") if found is None else found


def _number_or_word(text: str) -> float | str:
    """Read a number where it is one; what a word means depends on who says it."""
    try:
        return number(text)
    except argparse.ArgumentTypeError:
        return text


def _liking(args: argparse.Namespace, shelf: Shelf) -> float | None:
    """Return the liking that was said, a child's by its faces."""
    said: float | str | None = args.liking
    if said is not None and args.taster and children([args.taster], shelf):
        return float(check_face(said, shelf.tasters[args.taster]))
    if isinstance(said, str):
        scale = ", ".join(f"{i} {word}" for i, word in enumerate(LIKING_WORDS, start=1))
        known = {word: float(i) for i, word in enumerate(LIKING_WORDS, start=1)}
        if (found := known.get(said.strip().casefold())) is None:
            raise LogError(f"liking {said!r} is not on the scale", f"use one of: {scale}")
        return found
    return said


def run(args: argparse.Namespace, out: Output) -> int:
    """Pour, taste, store, answer."""
    if args.likeness is not None and args.target is None:
        raise LogError(f"likeness {args.likeness:g} to what?", "name what it was compared with: --target")
    if args.again is None and args.go_on is None and (args.base is None or args.base_g is None):
        raise WrongUsage(
            "pairing log: what was poured is not said",
            "name the base and --base-g, or an earlier cup with --again; see pairing log --help",
        )
    bench = open_bench(args)
    shelf = bench.shelf()
    by_ids(args, shelf, ["base"], ["override", "next"])
    with_ids(args, shelf)
    if args.again is not None:
        _pour_again(args, bench, out)
    _check_attributes(args, bench)
    said = ("liking", "likeness", "off_notes", "attributes", "reminds_of", "temperature_c", "session", "blind", "note")
    judgement = {name: getattr(args, name) for name in (*said, "glass")} | {"target_id": args.target}
    start = None
    if args.go_on is not None:
        start = bench.cup(trial_named(bench, args.go_on))
        args.base, args.trial_id, args.on_conflict = start.base_id, start.trial_id, "revise"
    if args.taster is None:
        args.taster = _taster_before(args, bench)
    judgement["liking"] = _liking(args, shelf)
    cup = make_cup(args, args.base, shelf, start=start, **judgement)
    check_lots(cup, shelf, bench.lots, args.yes)
    doses, base = dict(cup.dose_g_per_kg), shelf.base(args.base)
    known_doses = _answered(args, bench)
    past = high_doses(doses, base, shelf, args.override)
    high = [one for one in past if one.dose_g_per_kg > known_doses.get(one.flavouring_id, 0.0) * _SAME]
    sure([one.said(shelf.names) for one in high], args, _REMEDY)
    past_pause = [one.flavouring_id for one in high if not one.is_maximum]
    before = bench.revision
    known = args.trial_id is not None and cup.trial_id in bench.trials(cup.trial_id)
    try:
        how = {"overridden": tuple(dict.fromkeys((*args.override, *past_pause))), "on_conflict": args.on_conflict}
        trial_id = bench.log(cup, ended=args.ended, chosen_by=args.chosen_by, **how)
    except ConflictError as error:
        hint = "say --on-conflict revise to make it a correction, or leave out --trial-id to log another cup"
        raise ConflictError(error.message, hint) from None
    out.value("trial_id", trial_id)
    out.value("dose_g_per_kg", doses)
    in_it = ", ".join(f"{shelf.names[name]} {dose:.3g} g/kg" for name, dose in doses.items()) or "nothing added"
    readings = f"{len(cup.readings)} reading{'' if len(cup.readings) == 1 else 's'}"
    if bench.revision == before:
        out.say(f"Trial {short(trial_id, bench.trials)} was logged already, just so: nothing was added.")
        return 0
    for one in high:
        out.warn(f"{one.said(shelf.names)}{': do not drink more of it' if one.is_maximum else ''}")
    for note in guesses(args, args.base, shelf):
        out.warn(note)
    done = "Corrected" if known else "Logged"
    name = short(trial_id, bench.trials)
    out.say(f"{done} trial {name}: {base.name}, {in_it}; {readings}. To take it back: pairing undo")
    _tell_flags(bench, cup, out)
    _tell_next(args, bench, cup, out)
    return 0


def _tell_next(args: argparse.Namespace, bench: Bench, cup: Cup, out: Output) -> None:
    """Say what comes next: for a child neither a ladder nor many cups."""
    young = children([args.taster or ""], bench.shelf())
    if young and had_enough(bench.tables("readings"), young, bench.shelf()):
        out.warn(f"{args.taster} tasted {CUPS_OF_A_CHILD} flavoured cups today or more: that is enough for a child")
    if args.next is not None and young:
        out.say("No ladder for a child: pour the next one fresh, straight to its dose.")
    elif args.next is not None:
        doses = tuple(cup.dose_g_per_kg)
        advise(bench, learn(args, bench, out), cup, args.next or doses, out, taster=args.taster)


def _check_attributes(args: argparse.Namespace, bench: Bench) -> None:
    if args.attributes is not None:
        from pairing.host.attributes import check_words

        check_words(amounts(args.attributes, "attributes") or (), bench.host.attributes)


def _tell_flags(bench: Bench, cup: Cup, out: Output) -> None:
    """Keep what stops the cup for the JSON document; say who is beyond a day's limit with all that is logged today.

    Who comes near none by this cup alone is not looked up: reading the day's cups takes longer than logging one.
    """
    from pairing.safety.flagged import flags_of
    from pairing.safety.session import tallies

    shelf, rules = bench.shelf(), bench.host.rules
    found = [{"taster": f.taster, "cautions": f.cautions(shelf, rules)} for f in flags_of(cup, shelf, rules=rules)]
    out.value("flags", found)
    near = {taster for taster, drunk in tallies([cup], shelf).items() if drunk.cautions}
    for taster, drunk in swallowed_today(bench).items() if near else ():
        over = [caution for caution in drunk.cautions if caution.severity != "note"] if taster in near else []
        if over:
            out.say(f"{taster}, with all that is logged of today:")
            show_one(out, over, shelf.names)


def _taster_before(args: argparse.Namespace, bench: Bench) -> str | None:
    """Return who tasted last in the cup that is poured again or gone on with."""
    if (earlier := args.again or args.go_on) is None:
        return None
    return str(bench.trial(trial_named(bench, earlier))["readings"]["taster"].iloc[-1])


def _answered(args: argparse.Namespace, bench: Bench) -> dict[str, float]:
    """Return the highest dose of every flavouring in the cup that is poured again or gone on with, g/kg."""
    if (earlier := args.again or args.go_on) is None:
        return {}
    readings = bench.trial(trial_named(bench, earlier))["readings"]
    highest = readings.groupby("flavouring_id")["dose_g_per_kg"].max()
    return {str(name): float(dose) for name, dose in highest.items()}


def _pour_again(args: argparse.Namespace, bench: Bench, out: Output) -> None:
    """Put the base and the additions of an earlier cup before what is said of this one."""
    trial_id = trial_named(bench, args.again)
    base_id, base_g, added = poured_again(bench, trial_id)
    other = args.base not in (None, base_id)
    args.base = args.base or base_id
    args.base_g = base_g if args.base_g is None else poured_g(args.base_g, bench.shelf().base(args.base))
    if args.base_g != base_g:
        out.warn(f"{args.base_g:g} g are poured where that cup had {base_g:g} g: its additions are taken as they were")
    said = {text.rpartition("=")[0].strip() for kind, text in args.steps if kind == "add"}
    kept = [("add", f"{name}={amount}") for name, amounts in added.items() if name not in said for amount in amounts]
    args.steps = (*kept, *args.steps)
    names = bench.shelf().names
    same = ", ".join(f"{' + '.join(amounts)} {names[name]}" for name, amounts in added.items() if name not in said)
    where = f", but in {names[args.base]}" if other else ""
    out.say(f"As in {short(trial_id, bench.trials)}{where}: {same or 'nothing of what it held'}.")
