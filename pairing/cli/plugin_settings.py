"""What plugins let a bench set, and setting it: the options of ``pairing plugins``."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.cli.common import bench_path
from pairing.errors import PluginError

if TYPE_CHECKING:
    from pairing.cli.output import Output

__all__ = ["tell_settings"]


def tell_settings(args: argparse.Namespace, out: Output) -> int:
    """Write what is set, and show what may be."""
    from pairing.host import load
    from pairing.host.settings import SETTINGS_FILE, in_words
    from pairing.host.settings_file import write_setting
    from pairing.host.worker import SETTINGS, TABLE

    folder = Path(bench_path(args))
    place = folder if folder.is_dir() else None
    host = load(place, args.plugins, args.strict_plugins)
    for given in args.set:
        where, sign, value = given.partition("=")
        plugin, _, name = where.strip().partition(".")
        name, _, key = name.partition(".")
        if not sign or not name:
            raise PluginError(f"--set {given!r} sets nothing", "write NAME.SETTING=VALUE")
        if not folder.is_dir():
            raise PluginError(f"no bench folder at {folder}", "name it by --bench")
        write_setting(host, folder, plugin, name, value, key)
        out.say(f"{where.strip()} is {value.strip() or 'taken out'}: in {folder / SETTINGS_FILE}")
    host = load(place, args.plugins, args.strict_plugins) if args.set else host
    records = [
        {
            "plugin": plugin,
            "setting": setting.name,
            "allowed": in_words(setting),
            "default": setting.default,
            "now": host.settings.get(plugin, {}).get(setting.name),
            "about": setting.about,
        }
        for plugin, declared in {**host.declared, TABLE: SETTINGS}.items()
        for setting in declared
    ]
    columns = [
        ("plugin", "plugin"),
        ("setting", "setting"),
        ("now", "now", _now),
        ("default", "default", str),
        ("allowed", "may be"),
        ("about", "about"),
    ]
    out.table("settings", records, columns, title=f"Settings, in {folder / SETTINGS_FILE}")
    for fault in host.faults:
        if fault.stage == "settings" and not fault.note:
            out.warn(fault.line)
    return 0


def _now(value: Any) -> str:
    return ", ".join(f"{key} {one}" for key, one in value.items()) if isinstance(value, Mapping) else str(value)
