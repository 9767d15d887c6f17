"""Finding, trusting, checking and guarding plugins."""

from __future__ import annotations

from pairing.host.guard import Fault, features
from pairing.host.host import Host, Plugin
from pairing.host.loading import load, load_module
from pairing.host.trusted import trust

__all__ = ["Fault", "Host", "Plugin", "features", "load", "load_module", "trust"]
