"""Contract tests for plugin authors.

Inherit one in a test file and say which module is meant::

    from pairing.testing import RuleContract
    import my_plugin

    class TestMyPlugin(RuleContract):
        plugin = my_plugin
"""

from __future__ import annotations

import pytest

# so that a failure shows the values
pytest.register_assert_rewrite("pairing.testing.contracts", "pairing.testing.planning", "pairing.testing.rules")

from pairing.testing.contracts import (  # noqa: E402
    BaseContract,
    CompositionContract,
    FlavouringContract,
    FormatContract,
    PluginContract,
)
from pairing.testing.kitchen import sample_recipes, sample_shelf, sample_tables  # noqa: E402
from pairing.testing.planning import BaselineContract, GoalContract, LimitContract  # noqa: E402
from pairing.testing.rules import RuleContract  # noqa: E402

__all__ = [
    "BaseContract",
    "BaselineContract",
    "CompositionContract",
    "FlavouringContract",
    "FormatContract",
    "GoalContract",
    "LimitContract",
    "PluginContract",
    "RuleContract",
    "sample_recipes",
    "sample_shelf",
    "sample_tables",
]
