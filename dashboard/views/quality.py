"""How good is it: predictions held against cups that were not seen, and what each rule is worth."""

from pairing_dashboard import begin, pages, quality_views, session

pages.head("quality")
bench = begin.needed()
quality_views.show(bench, session.model(bench))
