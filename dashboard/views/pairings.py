"""Pairing map: what goes with what, how sure that is, and the cups behind it."""

from pairing_dashboard import begin, map_views, pages, session

pages.head("pairings")
bench = begin.needed()
map_views.show(bench, session.model(bench))
session.watch(bench)
