"""What the Plugins page shows, and the frame around a plugin's own page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st
from streamlit.runtime.scriptrunner import RerunException, StopException

from pairing_dashboard import begin, parts, quality_views, session
from pairing_dashboard.wording import count, md

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.host import Host, Plugin
    from pairing.host.fault import Fault

__all__ = ["own_page", "show"]

BEFORE = "plugins-before"


def show(bench: Bench) -> None:
    """List plugins, their faults and weights; reload on request."""
    host = session.host(bench)
    model = session.model(bench)
    faults = [f for f in (*host.faults, *model.faults) if not f.note]
    if not host.plugins:
        st.info("No plugin is in reach. `pairing new-plugin NAME --kind rule` writes one to start from.")
    else:
        working = sum(plugin.state == "loaded" for plugin in host.plugins)
        how = f"{count(len(faults), 'fault')} to mend" if faults else "no faults"
        parts.ask(f"{working} of {count(len(host.plugins), 'plugin')} loaded, {how}.")
    for fault in faults:
        _fault(fault)
    quality_views.weights(model.rule_weights())
    quality_views.curves(model.rule_curves())
    parts.table(map(_row, host.plugins), ("Plugin", "Version", "State", "Brings", "Load time>", "Why"), "In reach")
    _reload(bench, host)
    _settings(bench, host)


def _settings(bench: Bench, host: Host) -> None:
    """Show what plugins let this bench set, and set one."""
    from pairing.host.settings import in_words
    from pairing.host.settings_file import write_setting

    of_each = {(plugin, s.name): s for plugin, declared in host.declared.items() for s in declared}
    if not of_each:
        return
    st.subheader("Settings", anchor=False)
    rows = [
        (plugin, name, _now(host.settings.get(plugin, {}).get(name)), in_words(setting), setting.about)
        for (plugin, name), setting in of_each.items()
    ]
    parts.table(rows, ("Plugin", "Setting", "Now", "May be", "About"))
    if bench.plugin_folder is None or bench.read_only:
        return
    with st.form("plugin-setting", border=False):
        plugin, name = st.selectbox("Setting", list(of_each), format_func=" · ".join)
        key = st.text_input("Of which (only where it has a value for each)", placeholder="its id")
        value = st.text_input("Value", placeholder="empty: take it out")
        if st.form_submit_button("Set it", icon=":material/save:"):
            folder = bench.plugin_folder.parent
            parts.attempt(write_setting, host, folder, plugin, name, value, key.strip())
            st.rerun()


def _now(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {one}" for key, one in value.items()) or "—"
    return "—" if value is None else str(value)


def _row(plugin: Plugin) -> tuple[str, ...]:
    brings = (
        count(n, hook.removeprefix("pairing_").rstrip("s"), hook.removeprefix("pairing_"))
        for hook, n in plugin.objects.items()
        if n
    )
    load_time = f"{1000 * plugin.load_s:.0f} ms"
    return plugin.name, plugin.version, plugin.state, ", ".join(brings) or "—", load_time, plugin.reason or "—"


def _fault(fault: Fault) -> None:
    where = f"  \n{md(fault.where)}" if fault.where else ""
    remedy = f"  \n**What to do:** {md(fault.remedy)}" if fault.remedy else ""
    what = " ".join(filter(None, (fault.stage, fault.hook, fault.subject)))
    st.error(f"**{md(fault.plugin)}** ({md(what)}): {md(fault.error)}{remedy}{where}", icon=":material/extension_off:")


def _reload(bench: Bench, host: Host) -> None:
    """Load all plugins anew and show the difference."""
    if st.button("Load the plugins again", icon=":material/refresh:"):
        st.session_state[BEFORE] = _picture(bench, host)
        session.reload_plugins(bench)
        st.rerun()
    if (before := st.session_state.get(BEFORE)) is None:
        return
    after = _picture(bench, host)
    changed = [(name, before.get(name, "not there"), after.get(name, "not there")) for name in {**before, **after}]
    changed = [row for row in changed if row[1] != row[2]]
    if changed:
        parts.table(changed, ("", "Before", "After"), "What loading again changed")
    else:
        st.success("Loaded again: nothing is different.", icon=":material/check:")


def _picture(bench: Bench, host: Host) -> dict[str, str]:
    """Describe in words whatever a reload may change: plugins, rules and their weights, the first suggestions."""
    model = session.model(bench)
    found = {f"plugin {p.name}": f"{p.version}, {p.state} {p.reason}".strip() for p in host.plugins}
    for row in parts.rows(model.rule_weights()):
        found[f"rule {row.rule}"] = f"expected {row.prior_mean:+.2f}, learned {row.learned_mean:+.2f}"
    for place, suggestion in enumerate(parts.attempt(model.suggest, n=3, random_state=0) or (), 1):
        inside = " + ".join(suggestion.recipe.doses)
        found[f"suggestion {place}"] = f"{inside} in {suggestion.recipe.base_id}, liking {suggestion.liking:.1f}"
    return found


def own_page(view: Any) -> None:
    """Draw a plugin's own page; a fault in it is shown here and nowhere else."""
    from pairing.host.guard import attempt

    parts.title(md(view.title), view.summary)
    bench = begin.needed()
    model = session.model(bench)
    plugin = view.name.partition(":")[0]
    about = {"plugin": plugin, "stage": "view", "subject": view.name}
    _, fault = attempt(lambda: view.show(bench, model), passing=(RerunException, StopException), **about)
    if fault:
        _fault(fault)
