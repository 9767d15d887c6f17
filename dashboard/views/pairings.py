"""Pairing map: what goes with what, how sure that is, and the cups behind it."""

from pairing_dashboard import begin, map_views, parts, session

parts.title(
    "Pairing map", "What goes with what: a line means that two are liked more together than each explains alone."
)
bench = begin.needed()
map_views.show(bench, session.model(bench))
session.watch(bench)
