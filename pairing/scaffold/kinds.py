"""Kinds of plugins that an example is written of, and the contract that each is tested by."""

from __future__ import annotations

__all__ = ["CONTRACTS", "KINDS", "MORE", "OWN_TEST"]

CONTRACTS = {
    "rule": "RuleContract",
    "curve": "RuleContract",
    "caution": "RuleContract",
    "base": "BaseContract",
    "flavouring": "FlavouringContract",
    "limit": "LimitContract",
    "goal": "GoalContract",
    "baseline": "BaselineContract",
    "format": "FormatContract",
    "lookup": "CompositionContract",
    "command": "PluginContract",
    "page": "PluginContract",
    "listener": "PluginContract",
    "attribute": "PluginContract",
}
"""What a plugin's example brings, and the contract that its test inherits."""
KINDS = tuple(CONTRACTS)
MORE = {
    "lookup": '    known = "millet"\n',
    "caution": '    quiet = ("hot",)  # nothing on the sample shelf is hot\n',
}
"""What the test has to say beside the contract."""
OWN_TEST = ("rule",)
"""Kinds with a test of their own, which shows known answers."""
