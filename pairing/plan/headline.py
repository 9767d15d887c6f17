"""What to do next at the bench, in a few words: one wording for every screen."""

from __future__ import annotations

from pairing.model.answers import Advice

__all__ = ["headline"]


def headline(advice: Advice, name: str) -> str:
    """Say what to do, in a few words; ``name`` is the flavouring's.

    Examples
    --------
    >>> said = {"flavouring_id": "plum", "add_g": 0.0, "add_drops": None, "target_g_per_kg": 2.0, "reason": ""}
    >>> sure = {"p_in_range": 0.8, "p_over": 0.1}
    >>> headline(Advice(stop=False, again=True, add_base_g=0.0, **said, **sure), "Plum drops")
    'Rinse, and sip again before more Plum drops'
    >>> headline(Advice(stop=True, add_base_g=120.0, **said, **sure), "Plum drops")
    'Too strong: add 120 g of the base'
    """
    if advice.again:
        return f"Rinse, and sip again before more {name}"
    if advice.add_base_g:
        return f"Too strong: add {advice.add_base_g:.0f} g of the base"
    if advice.paused:
        return f"{'Stop' if advice.stopped else 'Pause'}: no more {name}"
    if advice.over:
        return "Too strong: this cup is over"
    if advice.stop:
        return f"Stop: {name} is where it should be"
    if advice.dilute_first is None:
        return f"Add {advice.portion} of {name}"
    return f"Add {advice.portion} of {advice.dilute_first.name}, diluted first"
