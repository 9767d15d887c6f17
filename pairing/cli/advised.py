"""What to do next with a cup in hand, told flavouring by flavouring."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from pairing.cli.care import show_one, swallowed_today
from pairing.cli.output import Output
from pairing.model.caution import gravest_first
from pairing.nutrition.by_form import how_to_add
from pairing.nutrition.maximum import maximum_of
from pairing.plan.headline import headline

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.answers import Advice
    from pairing.model.cup import Cup

__all__ = ["advise"]


def advise(
    bench: Bench,
    model: Learned,
    cup: Cup,
    flavouring_ids: Sequence[str],
    out: Output,
    *,
    taster: str | None = None,
    override: bool = False,
    explain: bool = False,
) -> list[Advice]:
    """Ask about each flavouring, tell it, the one that has furthest to go first, and return the advice."""
    from pairing.plan.ladder import next_additions

    how: dict[str, Any] = {"scale_g": bench.settings["scale_g"], "override": override, "tasters": taster}
    advices = next_additions(model, cup, flavouring_ids, already=swallowed_today(bench), **how)
    if len(advices) == 1:
        out.value("advice", advices[0])
    out.value("advices", advices)
    for advice in advices:
        _tell(advice, model, out, override)
    graver = gravest_first(caution for one in advices for caution in one.cautions)
    show_one(out, graver, model.shelf.names, explain=explain)
    last = cup.readings[-1] if cup.readings else None
    if last is not None and last.stepped == "yes" and all(one.stop and not (one.paused or one.over) for one in advices):
        out.say("Pour it fresh: nobody drinks a cup that was stepped up to. The first sip of a fresh one")
        out.say("scores: pairing log --again last --liking …; of a whole glass, with --glass full, start at")
        out.say(f"{model.serving_share}.")
    if len(advices) > 1 and advices[0].portion is not None:
        out.say(f"Add one at a time: {model.shelf.names[advices[0].flavouring_id]} first, then sip and ask again.")
    return advices


def _tell(advice: Advice, model: Learned, out: Output, override: bool) -> None:
    """Say what to do about one flavouring, and why."""
    flavouring = model.shelf.flavouring(advice.flavouring_id)
    name = flavouring.name
    out.say(f"{headline(advice, name)}.")
    out.say(f"{advice.reason[:1].upper()}{advice.reason[1:]}")
    if advice.portion is not None and advice.dilute_first is None and (how := how_to_add(flavouring)):
        out.say(f"How: {how}.")
    when = "now" if advice.stop or advice.again else "afterwards"
    if not advice.paused:
        out.say(
            f"At {advice.target_g_per_kg:.3g} g/kg: {advice.p_in_range:.0%} to be in range {when}, "
            f"{advice.p_over:.0%} to be over it."
        )
    if maximum_of(flavouring, model.shelf) is None and not advice.stopped:
        logged = f"--override {advice.flavouring_id} when the cup is logged"
        if advice.paused:
            out.say(f"To go on past that on purpose: --override here, {logged}.")
        elif override and advice.portion is not None:
            out.say(f"If this goes past 3 × the label: {logged}.")
