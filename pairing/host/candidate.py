"""One plugin on its way into the host: imported, asked the first questions, registered, its objects checked."""

from __future__ import annotations

import re
import time
import uuid
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from types import MappingProxyType
from typing import Any

import pluggy

from pairing.errors import PluginError
from pairing.host.content import Known, declared, own_content
from pairing.host.fields import name_of
from pairing.host.find import Found
from pairing.host.guard import Gathering, attempt
from pairing.host.handshake import check_api, marked
from pairing.host.host import Plugin
from pairing.host.objects import checked
from pairing.host.registry import BRINGING, Brought, register
from pairing.host.worker import TABLE

__all__ = ["Candidate"]

_NAME = re.compile(r"[a-z0-9][a-z0-9.-]*")
_IDS = ("id", "base_id", "flavouring_id", "name")


@dataclass
class Candidate:
    """A plugin that was found, and how it fares.

    Attributes
    ----------
    found : Found
    gathering : Gathering
        Its faults so far.
    state, reason : str
        Why it is not to be loaded at all; empty if it is.
    digest : str
        Hash of what its answers rest on.
    lasting : bool
        Whether all of that could be hashed.
    module : module or None
    api : tuple of int or None
        None until it has answered the first questions.
    functions : mapping of name to callable
        What is meant as hooks.
    objects : mapping of hook to int
        Hooks in use, and how many objects each brought.
    """

    found: Found
    gathering: Gathering
    state: str = ""
    reason: str = ""
    api: tuple[int, int] | None = None
    module: Any = None
    functions: dict[str, Callable[..., Any]] = field(default_factory=dict)
    objects: dict[str, int] = field(default_factory=dict)
    digest: str = ""
    lasting: bool = True
    seconds: float = 0.0

    @property
    def name(self) -> str:
        """Name of the plugin."""
        return self.found.name

    def bring(self, before: Iterable[Candidate], settings: Mapping[str, Any], known: Known) -> None:
        """Import it and ask the first questions; ``before`` are those whose names are taken."""
        started = time.perf_counter()
        named = self._try(partial(self._check_name, [c.found for c in before]), "find")
        module = self._try(self.found.bring, "import", watched=not self.found.shipped) if named else None
        api = self._try(partial(check_api, module), "handshake") if module is not None else None
        if api is not None:
            self.functions = self._try(lambda: dict(marked(module)), "handshake") or {}
            self.module = module
            self._rest_on(partial(own_content, module, settings, self.found.folder, known))
        self.api, self.seconds = api, time.perf_counter() - started

    def _rest_on(self, content: Callable[[], str], subject: str = "") -> None:
        """Add to the hash of what the answers rest on; without it they do not last from one load to the next."""
        found, fault = attempt(content, plugin=self.name, stage="content", subject=subject, watched=False)
        if fault is not None:
            self.lasting = False
            self.gathering.faults.append(replace(fault, where="", note=True))
        in_memory = getattr(self.module, "__file__", None) is None  # nobody edits it while it is there
        self.digest += found or (str(id(self.module)) if in_memory else uuid.uuid4().hex)

    def register(self, registry: pluggy.PluginManager) -> None:
        """Register its hooks, one by one."""
        for name, function in self.functions.items():
            enter = partial(register, registry, self.name, name, function, watched=not self.found.shipped)
            hook = self._try(enter, "handshake", defined=function)
            if hook:
                self.objects[hook] = int(hook not in BRINGING)

    def settling(self, call: Callable[[], Any], subject: str) -> Any:
        """Read one of its settings; a fault is kept."""
        return self._try(call, "settings", subject=subject)

    def take(self, hook: str, brought: Brought, kept: list[Any]) -> None:
        """Check what one of its hooks brought, and keep what is good."""
        self.seconds += brought.seconds
        before = len(kept)
        for thing in brought.things:
            about = {"hook": hook, "defined": brought.hook}
            name = self._try(partial(name_of, thing), "object", **about)
            if name is not None:
                made = self._try(partial(_made, hook, self.name, thing, kept), "object", subject=name, **about)
                if made is not None:
                    kept.append(made)
                    if getattr(thing, "depends_on", ()):
                        self._rest_on(partial(declared, thing, self.module), subject=name)
        self.objects[hook] += len(kept) - before

    def plugin(self) -> Plugin:
        """Return how it fared."""
        mine = [fault for fault in self.gathering.faults if not fault.note]
        return Plugin(
            name=self.name,
            version=self.found.version,
            origin=self.found.origin,
            state=self.state or ("off" if self.api is None else "partly" if mine else "loaded"),
            reason=self.reason or "; ".join(fault.happened for fault in mine),
            api=self.api,
            hooks=tuple(self.objects),
            objects=MappingProxyType(self.objects),
            digest=self.digest,
            lasting=self.lasting,
            load_s=self.seconds,
        )

    def _try(self, call: Callable[[], Any], stage: str, **about: Any) -> Any:
        return self.gathering.attempt(call, plugin=self.name, stage=stage, **{"watched": False, **about})

    def _check_name(self, others: list[Found]) -> bool:
        if not _NAME.fullmatch(self.name):
            raise PluginError(f"{self.found.origin}: {self.name!r} cannot be a name", "use letters, digits and hyphens")
        if self.name == TABLE:
            raise PluginError(f"{self.found.origin}: {TABLE} is a table of the settings", "rename it")
        if taken := [other.origin for other in others if other.name == self.name]:
            raise PluginError(f"{self.found.origin}: the name is taken by {taken[0]}", "rename or remove one of them")
        return True


def _made(hook: str, plugin: str, thing: Any, kept: list[Any]) -> Any:
    """Check an object, and that its name is not taken; a command keeps its own name, and its plugin beside it."""
    made = checked(hook, plugin, thing)
    if _id(made) in {_id(k[1] if isinstance(k, tuple) else k) for k in kept}:
        raise PluginError(f"the name {_id(made)!r} is used twice", "rename one of them")
    return (plugin, made) if hook == "pairing_commands" else made


def _id(thing: Any) -> str:
    return str(next(value for a in _IDS if (value := getattr(thing, a, None)) is not None))
