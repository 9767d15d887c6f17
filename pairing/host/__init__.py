"""Finding, trusting, checking and guarding plugins."""

from __future__ import annotations

from pairing.host.fault import Fault
from pairing.host.host import Host, Plugin
from pairing.host.loading import load, load_module
from pairing.host.scoring import features
from pairing.host.trusted import trust

__all__ = ["Fault", "Host", "Plugin", "features", "load", "load_module", "trust"]
