"""How good is it: predictions held against cups that were not seen, and what each rule is worth."""

from pairing_dashboard import begin, parts, quality_views, session

parts.title("How good is it", "What the predictions are worth on your own cups, and what each rule adds.")
bench = begin.needed()
quality_views.show(bench, session.model(bench))
