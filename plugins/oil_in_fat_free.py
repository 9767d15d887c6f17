"""An oil-type flavouring floats on a base without fat: the tool itself says so now, whatever plugins are loaded.

The file stays so that a bench which names this plugin loads as before.
"""

from __future__ import annotations

from pairing.api import Rule, hookimpl

PAIRING_API = (1, 0)


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return no rule of its own."""
    return []
