"""Loading plugins: all are imported and registered, then each hook is called once; every step behind the guard."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pluggy

from pairing.api import Setting
from pairing.errors import PluginError, UnknownIdError, first_few, nearest
from pairing.host import core
from pairing.host.candidate import Candidate
from pairing.host.content import Known
from pairing.host.fault import Fault
from pairing.host.find import SHIPPED, Found, find, plugin_name
from pairing.host.guard import Gathering, gathering
from pairing.host.host import Host
from pairing.host.registry import BRINGING, HOOKS, Brought, PerPlugin, new_registry
from pairing.host.settings import SETTINGS_FILE, settled
from pairing.host.trusted import how_to_trust
from pairing.host.worker import SETTINGS, TABLE, Worker

__all__ = ["load", "load_found", "load_module"]

Settings = Mapping[str, Mapping[str, Any]]
MEANT = 0.75
"""How alike a name without a plugin is to a plugin's that was meant by it, as `difflib` measures it (our choice)."""
NOT_TRUSTED = "the files in this bench's plugin folder do not run until you say so"


def load(
    bench_folder: str | Path | None = None,
    only: str | Iterable[str] | None = None,
    strict: bool = False,
    settings: Mapping[str, Mapping[str, Any]] | None = None,
) -> Host:
    """Find, import and check all plugins. A fault never stops the others.

    Parameters
    ----------
    bench_folder : path, optional
        The bench whose ``plugins/*.py`` are plugins too and whose ``plugins.toml`` holds their settings.
    only : text ``a,b`` or names, optional
        Load these alone; empty loads none. None loads all.
    strict : bool
        Raise on the first fault, for authors and automatic checks.
    settings : mapping of plugin name to mapping, optional
        Instead of the file.

    Returns
    -------
    Host

    Raises
    ------
    UnknownIdError
        When ``only`` names a plugin that is not there.
    PluginError
        Only when strict.
    """
    folder = Path(bench_folder) if bench_folder is not None else None
    found = find(folder)
    chosen = _chosen(only, found)
    general = Gathering(strict)
    given = _settings(folder, settings, {f.name for f in found}, general)
    candidates = [Candidate(f, Gathering(strict), *_why_not(f, chosen)) for f in found]
    _name_untrusted(candidates, folder, general)
    return _host(candidates, given, general, folder)


def load_module(module: Any, name: str, settings: Mapping[str, Any] | None = None, strict: bool = False) -> Host:
    """Check one plugin that is imported already and return a host with nothing else: for tests of a plugin.

    Parameters
    ----------
    module : module
    name : str
        What to call the plugin.
    settings : mapping, optional
        Its settings.
    strict : bool
        Raise on the first fault.
    """
    name = plugin_name(name)
    candidate = Candidate(Found(name, "module", "0", lambda: module), Gathering(strict))
    return _host([candidate], {name: settings or {}}, Gathering(strict), None)


def load_found(found: Found, settings: Mapping[str, Any], folder: Path | None) -> Host:
    """Load one plugin that was found, with the settings that another process has checked."""
    return _host([Candidate(found, Gathering())], {found.name: settings}, Gathering(), folder, alone=False)


def _chosen(only: str | Iterable[str] | None, found: list[Found]) -> set[str] | None:
    if only is None:
        return None
    names = {plugin_name(n) for n in (only.split(",") if isinstance(only, str) else only) if n.strip()}
    known = {f.name for f in found}
    if missing := sorted(names - known):
        raise UnknownIdError(f"no plugin {missing[0]!r}", nearest(missing[0], known))
    return names


def _why_not(found: Found, chosen: set[str] | None) -> tuple[str, str]:
    """State and reason of a plugin that is not to be loaded; empty for one that is."""
    if chosen is not None and found.name not in chosen:
        return "left out", "not among --plugins"
    return ("", "") if found.trusted else ("not trusted", NOT_TRUSTED)


def _settings(
    folder: Path | None, given: Mapping[str, Mapping[str, Any]] | None, known: set[str], general: Gathering
) -> Settings:
    """Take the settings, and point out those of a plugin that is not there."""
    if given is None:
        path = folder / SETTINGS_FILE if folder else None
        if path is None or not path.exists():
            return {}
        given = general.attempt(partial(_toml, path), plugin=SETTINGS_FILE, stage="settings") or {}
    for name, tables in _twice(given):
        text = f"{SETTINGS_FILE} has several tables for it: {', '.join(tables)}"
        fault = Fault(plugin=name, stage="settings", error=text, remedy="keep one: none of them is used")
        if general.strict:
            raise fault.as_error()
        general.faults.append(fault)
        given = {table: values for table, values in given.items() if table not in tables}
    for name in sorted({plugin_name(name) for name in given} - known - {TABLE}):
        text, meant = (
            "settings for a plugin that is not installed",
            bool(get_close_matches(name, sorted(known), 1, MEANT)),
        )
        fault = Fault(plugin=name, stage="settings", error=text, remedy=nearest(name, known), note=not meant)
        if general.strict and meant:
            raise fault.as_error()
        general.faults.append(fault)
    for name, values in given.items():
        general.attempt(partial(_check_table, name, values), plugin=plugin_name(name), stage="settings")
    return {plugin_name(name): values if isinstance(values, Mapping) else {} for name, values in given.items()}


def _check_table(name: str, values: Any) -> None:
    if not isinstance(values, Mapping):
        told = f"{SETTINGS_FILE} has {name} = {values!r} outside of any plugin's table"
        raise PluginError(told, "write it below [plugin-name]")


def _twice(given: Mapping[str, Any]) -> list[tuple[str, list[str]]]:
    """Return tables that are one plugin's under several spellings."""
    names: dict[str, list[str]] = {}
    for table in given:
        names.setdefault(plugin_name(table), []).append(table)
    return [(name, tables) for name, tables in names.items() if len(tables) > 1]


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise PluginError(
            f"{path.name} cannot be read: {error}", 'write [plugin-name] and then key = "value"'
        ) from None


def _name_untrusted(candidates: list[Candidate], folder: Path | None, general: Gathering) -> None:
    """Say in one line which plugins do not run for want of trust."""
    names = [c.name for c in candidates if c.state == "not trusted"]
    if names and folder:
        fault = Fault(
            plugin=first_few(names), stage="trust", error=f"not trusted: {NOT_TRUSTED}", remedy=how_to_trust(folder)
        )
        if general.strict:
            raise fault.as_error()
        general.faults.append(fault)


def _host(
    candidates: list[Candidate], settings: Settings, general: Gathering, folder: Path | None, *, alone: bool = True
) -> Host:
    """Bring all of them; ``alone``: rules of a bench's files are asked in a process of their own.

    What is shipped is watched all at once, anyone else's at each call, so that it is known whose it was.
    """
    registry = new_registry()
    before = core.seen()
    try:
        ready, declared, own, lists = _bring(registry, candidates, settings, general, folder)
    except BaseException:
        core.put_back(before)
        raise
    general.attempt(partial(core.check_core, before), plugin=SHIPPED, stage="core", watched=False)
    if alone:
        _set_apart(ready.values(), lists, settings, folder, general)
    return Host(
        hook=registry.hook,
        plugins=tuple(c.plugin() for c in candidates),
        faults=(*general.faults, *(fault for c in candidates for fault in c.gathering.faults)),
        strict=general.strict,
        declared=MappingProxyType(declared),
        settings=MappingProxyType(own),
        given=MappingProxyType(dict(settings)),
        **{hook.removeprefix("pairing_"): tuple(kept) for hook, kept in lists.items()},
    )


def _bring(
    registry: pluggy.PluginManager,
    candidates: list[Candidate],
    settings: Settings,
    general: Gathering,
    folder: Path | None,
) -> tuple[dict[str, Candidate], dict[str, tuple[Setting, ...]], dict[str, Mapping[str, Any]], dict[str, list[Any]]]:
    """Bring all of them; return who answers, what each declares, its settings, and what all brought by hook."""
    known = Known()
    lists: dict[str, list[Any]] = {hook: [] for hook in BRINGING if hook != "pairing_settings"}
    for place, candidate in enumerate(candidates):
        if not candidate.state:
            candidate.bring(candidates[:place], settings.get(candidate.name, {}), known)
    ready = {c.name: c for c in candidates if c.api is not None}
    for candidate in reversed(ready.values()):  # pluggy calls first what was registered last
        candidate.register(registry)
    declared = _declared(registry, ready, general)
    own: dict[str, Mapping[str, Any]] = {}
    for name, candidate in ready.items():
        right = settled(declared.get(name, ()), settings.get(name, {}), folder, candidate.settling)
        own[name] = MappingProxyType({**right, "folder": folder})
    for hook, kept in lists.items():
        handed = {"settings": PerPlugin(own)} if "settings" in HOOKS[hook] else {}
        for brought in _called(registry, hook, ready, general, **handed):
            ready[brought.plugin].take(hook, brought, kept)
    return ready, declared, own, lists


def _set_apart(
    ready: Iterable[Candidate],
    lists: Mapping[str, list[Any]],
    settings: Settings,
    folder: Path | None,
    general: Gathering,
) -> None:
    """Put what the files of a bench bring to be asked about recipes into a process of its own."""
    files = [candidate.found for candidate in ready if candidate.found.source]
    given = settings.get(TABLE, {})
    right = settled(SETTINGS, given, folder, partial(general.attempt, plugin=TABLE, stage="settings"))
    if not files or not right["on"]:
        return
    worker = Worker(right)
    for found in files:
        for hook in ("pairing_rules", "pairing_limits", "pairing_goals"):
            worker.take(found, settings.get(found.name, {}), folder, lists[hook])


def _called(
    registry: pluggy.PluginManager, hook: str, ready: Mapping[str, Candidate], general: Gathering, **handed: Any
) -> list[Brought]:
    """Call a hook of all plugins; what goes wrong is put down to each."""
    with gathering(general.strict) as gathered:
        found: list[Brought] = getattr(registry.hook, hook)(**handed)
    for fault in gathered.faults:
        ready[fault.plugin].gathering.faults.append(fault)
    return found


def _declared(
    registry: pluggy.PluginManager, ready: Mapping[str, Candidate], general: Gathering
) -> dict[str, tuple[Setting, ...]]:
    """Ask every plugin which settings it reads."""
    found: dict[str, list[Setting]] = {}
    for brought in _called(registry, "pairing_settings", ready, general):
        ready[brought.plugin].take("pairing_settings", brought, found.setdefault(brought.plugin, []))
    return {plugin: tuple(settings) for plugin, settings in found.items()}
