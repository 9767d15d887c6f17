"""Writing one setting of a plugin into the bench's ``plugins.toml``; comments and all else in it stay as they are."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from pairing.errors import PluginError, UnknownIdError, nearest
from pairing.host.find import plugin_name
from pairing.host.settings import SETTINGS_FILE, read_setting
from pairing.host.worker import SETTINGS, TABLE
from pairing.quantities.rates import read_in, read_whole

if TYPE_CHECKING:
    from pairing.api import Setting
    from pairing.host.host import Host

__all__ = ["read_text", "write_setting"]


def read_text(setting: Setting, text: str) -> Any:
    """Read a value as people type it, by what the setting may be; empty text is no value.

    Examples
    --------
    >>> from pairing.api import Setting
    >>> read_text(Setting(name="most", about="The most", kind="number"), "0,4")
    0.4
    """
    text = text.strip()
    if not text:
        return None
    if setting.kind == "number":
        return read_in(text, setting.name)
    if setting.kind == "whole":
        return read_whole(text)
    if setting.kind == "yes-no":
        if text.casefold() not in ("yes", "no", "true", "false"):
            raise PluginError(f"{setting.name} is {text!r}", "write yes or no")
        return text.casefold() in ("yes", "true")
    return text


def write_setting(host: Host, bench_folder: Path, plugin: str, name: str, value: Any, key: str = "") -> None:
    """Write a setting that a plugin declares, or take it out; the plugins have to be loaded again to hear of it.

    Parameters
    ----------
    host : Host
        Knows what is declared.
    bench_folder : Path
    plugin, name : str
    value : any
        Checked first; text is read by what the setting may be. None takes it out.
    key : str
        Of a setting that has a value for each of several: which one.

    Raises
    ------
    UnknownIdError
        When no plugin declares it.
    PluginError
        When the value is not allowed, or the file cannot be read or written.
    """
    plugin = plugin_name(plugin)
    declared = {**host.declared, TABLE: SETTINGS}
    if plugin not in declared:
        raise UnknownIdError(f"no plugin {plugin!r} declares settings", nearest(plugin, declared))
    known = {setting.name: setting for setting in declared[plugin]}
    if name not in known:
        raise UnknownIdError(f"plugin {plugin} has no setting {name!r}", nearest(name, known))
    setting = known[name]
    if bool(setting.each) != bool(key):
        each = f"name the {setting.each}: {plugin}.{name}.ID=VALUE" if setting.each else "leave the id out"
        raise PluginError(f"{name} has {'a value for each' if setting.each else 'one value'}", each)
    value = read_text(setting, value) if isinstance(value, str) else value
    if value is not None:
        read_setting(setting, {key: value} if key else value, bench_folder)
    path = bench_folder / SETTINGS_FILE
    try:
        document = tomlkit.parse(path.read_text("utf-8")) if path.exists() else tomlkit.document()
    except (TOMLKitError, OSError, UnicodeDecodeError) as error:
        raise PluginError(f"{path} cannot be read: {error}", "mend it by hand") from None
    tables: Any = document
    for step in (next((n for n in document if plugin_name(n) == plugin), plugin), *([name] if key else [])):
        if step not in tables:
            tables[step] = tomlkit.table()
        tables = tables[step]
    if value is None:
        tables.pop(key or name, None)
    else:
        tables[key or name] = value
    unfinished = path.with_name(f".unfinished-{path.name}")
    unfinished.write_text(tomlkit.dumps(document), "utf-8")
    unfinished.replace(path)
