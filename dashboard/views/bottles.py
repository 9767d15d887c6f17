"""Bottles: what is left of each bottle and bag; buying, opening, weighing, emptying; and what a batch lacks."""

from pairing_dashboard import begin, bottle_views, pages, session

pages.head("bottles")
bench = begin.needed()
bottle_views.show(bench)
session.watch(bench)
