"""The host: everything that plugins brought, checked, and how each of them fared."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import pluggy

from pairing.api import (
    AdditionTable,
    Attribute,
    Base,
    Baseline,
    Command,
    Composition,
    Flavouring,
    LogEvent,
    Reader,
    RecipeTable,
    RuleLike,
    Setting,
    View,
    Writer,
)
from pairing.host import guard, scoring
from pairing.host.fault import Fault
from pairing.host.registry import new_registry
from pairing.host.rules import HostedRule
from pairing.host.settings import misspelt
from pairing.model.shelf import Shelf

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

__all__ = ["Host", "Plugin"]


@dataclass(frozen=True, kw_only=True)
class Plugin:
    """How one plugin fared.

    Attributes
    ----------
    name, version, origin : str
    api : tuple of int or None
    hooks : tuple of str
        Hooks in use.
    objects : mapping of hook to int
        How many objects each hook brought.
    digest : str
        Hash of its code, its settings and what it depends on: another one may teach the model something else.
    lasting : bool
        Whether all of that could be hashed; else what is learned with it is learned afresh each time.
    load_s : float
        Seconds for import, checks and hooks.
    state : {"loaded", "partly", "off", "left out", "not trusted"}
        ``partly``: something in it was refused, the rest works; ``not trusted``: it was not run.
    reason : str
        Why it is not ``loaded``.
    """

    name: str
    version: str
    origin: str
    state: str
    reason: str = ""
    api: tuple[int, int] | None = None
    hooks: tuple[str, ...] = ()
    objects: Mapping[str, int] = field(default_factory=dict)
    digest: str = ""
    lasting: bool = field(default=True, compare=False)
    load_s: float = field(default=0.0, compare=False)


@dataclass(frozen=True, kw_only=True, eq=False)
class Host:
    """All that plugins brought. Made by `pairing.host.load`; asking changes nothing.

    Attributes
    ----------
    bases, flavourings, rules, limits, goals, baselines, readers, writers, attributes, commands, views : tuples
        Under full names ``plugin:name`` (commands and attributes keep their own), in the order of plugin names.
    hook : pluggy.HookRelay
        Hooks that are called later: readers of trial files, listeners to trials.
    plugins : tuple of Plugin
    faults : tuple of Fault
        From loading.
    strict : bool
        Whether faults are raised.
    declared : mapping of plugin to tuple of Setting
        What each plugin says that it reads.
    settings : mapping of plugin to mapping
        What each was handed: checked, with defaults.
    given : mapping of plugin to mapping
        What the bench's file says, unchecked, of plugins that were not loaded too.
    """

    bases: tuple[Base, ...] = ()
    flavourings: tuple[Flavouring, ...] = ()
    rules: tuple[HostedRule, ...] = ()
    limits: tuple[HostedRule, ...] = ()
    goals: tuple[HostedRule, ...] = ()
    baselines: tuple[Baseline, ...] = ()
    readers: tuple[Reader, ...] = ()
    writers: tuple[Writer, ...] = ()
    attributes: tuple[Attribute, ...] = ()
    commands: tuple[tuple[str, Command], ...] = ()
    views: tuple[View, ...] = ()
    hook: pluggy.HookRelay = field(default_factory=lambda: new_registry().hook)
    plugins: tuple[Plugin, ...] = ()
    faults: tuple[Fault, ...] = ()
    strict: bool = False
    declared: Mapping[str, tuple[Setting, ...]] = field(default_factory=dict)
    settings: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    given: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    @property
    def asked(self) -> tuple[HostedRule, ...]:
        """All that is asked about recipes: rules, and the limits and goals of the planner."""
        return self.rules + self.limits + self.goals

    def misspelt(self, shelf: Shelf) -> tuple[Fault, ...]:
        """Return a fault for each id in the settings that this shelf does not know.

        Raises
        ------
        PluginError
            Only when strict.
        """
        found = tuple(misspelt(self.declared, self.settings, self.stock(shelf)))
        if self.strict and found:
            raise found[0].as_error()
        return found

    @property
    def fingerprint(self) -> str:
        """Short text that changes whenever what is learned from these plugins may change."""
        parts = [f"{p.name} {p.version} {p.digest} {p.state}" for p in self.plugins]
        parts += [
            f"{r.id} {r.acts_on} {r.prior_mean!r} {r.prior_sd!r} {r.column} {r.needs} {r.source} {r.parts}"
            for r in self.rules
        ]
        return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]

    @property
    def lasting(self) -> bool:
        """Whether the fingerprint covers all that is learned from, so that it may be kept from one load to the next."""
        return all(p.lasting for p in self.plugins)

    def features(
        self, rules: Sequence[RuleLike], table: RecipeTable | AdditionTable
    ) -> tuple[NDArray[np.float64], tuple[Fault, ...]]:
        """Ask rules for their features, see `pairing.host.scoring.features`."""
        return scoring.features(rules, table, strict=self.strict)

    def stock(self, shelf: Shelf) -> Shelf:
        """Return a shelf with the plugins' bases and flavourings beside its own; its own win."""
        bases = {**{b.base_id: b for b in self.bases}, **shelf.bases}
        flavourings = {**{f.flavouring_id: f for f in self.flavourings}, **shelf.flavourings}
        return replace(shelf, bases=MappingProxyType(bases), flavourings=MappingProxyType(flavourings))

    def used(self, shelf: Shelf, readings: pd.DataFrame | Mapping[str, Iterable[str]]) -> Shelf:
        """Return a shelf with those of the plugins' bases and flavourings beside its own that the log has used."""
        bases, flavourings = set(readings["base_id"]), set(readings["flavouring_id"])
        own = replace(
            self,
            bases=tuple(b for b in self.bases if b.base_id in bases),
            flavourings=tuple(f for f in self.flavourings if f.flavouring_id in flavourings),
        )
        return own.stock(shelf) if own.bases or own.flavourings else shelf

    def read_trials(self, path: str | Path) -> tuple[pd.DataFrame | None, tuple[Fault, ...]]:
        """Ask the readers one after the other for the readings in a file; None if no reader knows it."""
        with guard.gathering(self.strict, subject=Path(path).name) as gathered:
            table = self.hook.pairing_read_trials(path=Path(path))
        return table, tuple(gathered.faults)

    def compositions(self, text: str) -> tuple[tuple[Composition, ...], tuple[Fault, ...]]:
        """Look a drink or foodstuff up by name in the tables that plugins bring."""
        with guard.gathering(self.strict, subject=text) as gathered:
            found = self.hook.pairing_compositions(text=text)
        return tuple(entry for entries in found for entry in entries), tuple(gathered.faults)

    def trial_logged(self, trial: Any) -> tuple[Fault, ...]:
        """Tell the plugins of a trial that is stored. Faults come back and are never raised: it is stored."""
        with guard.gathering() as gathered:
            self.hook.pairing_trial_logged(trial=trial)
        return tuple(gathered.faults)

    def logged(self, event: LogEvent) -> tuple[Fault, ...]:
        """Tell the plugins of a change of trials that is stored; see `trial_logged`."""
        with guard.gathering() as gathered:
            self.hook.pairing_logged(event=event)
        return tuple(gathered.faults)

    def listens(self, hook: str) -> bool:
        """Tell whether any plugin has a hook."""
        return bool(getattr(self.hook, hook).get_hookimpls())

    def changes(self, before: Host) -> tuple[str, ...]:
        """Say what is different from an earlier host, one line each."""
        return tuple(_changes(before, self))


def _changes(before: Host, after: Host) -> Iterator[str]:
    old, new = ({p.name: p for p in host.plugins} for host in (before, after))
    for name in sorted(old.keys() | new.keys()):
        if name not in old:
            yield f"plugin {name} is new ({new[name].state})"
        elif name not in new:
            yield f"plugin {name} is gone"
        elif (was := old[name]) != (now := new[name]):
            if was.version != now.version:
                yield f"plugin {name} changed from {was.version} to {now.version}"
            if was.state != now.state:
                yield f"plugin {name} was {was.state} and is {now.state}" + (f": {now.reason}" if now.reason else "")
    rules_before, rules_after = ({r.id: r for r in host.rules} for host in (before, after))
    for name in sorted(rules_before.keys() | rules_after.keys()):
        if name not in rules_before:
            yield f"rule {name} is new"
        elif name not in rules_after:
            yield f"rule {name} is gone"
        elif _prior(rules_before[name]) != _prior(rules_after[name]):
            yield f"rule {name}: prior was {_prior(rules_before[name])} and is {_prior(rules_after[name])}"


def _prior(rule: RuleLike) -> str:
    return f"{rule.prior_mean:g} ± {rule.prior_sd:g}"
