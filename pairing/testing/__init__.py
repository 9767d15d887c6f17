"""Contract tests for plugin authors.

Inherit one in a test file and say which module is meant::

    from pairing.testing import RuleContract
    import my_plugin

    class TestMyPlugin(RuleContract):
        plugin = my_plugin
"""

from __future__ import annotations

import pytest

pytest.register_assert_rewrite("pairing.testing.contracts")  # so that a failure shows the values

from pairing.testing.contracts import BaseContract, CompositionContract, PluginContract, RuleContract  # noqa: E402
from pairing.testing.kitchen import sample_recipes, sample_shelf  # noqa: E402

__all__ = ["BaseContract", "CompositionContract", "PluginContract", "RuleContract", "sample_recipes", "sample_shelf"]
