"""An evening: who is there, what they may take, and the cups in order; planned anew after every cup."""

from pairing_dashboard import begin, evening_views, pages, session

pages.head("evening")
bench = begin.needed()
evening_views.show(bench)
session.watch(bench)
