"""Recipe cards: one page per recipe, for one cup or twenty litres, to print or to keep."""

from pairing_dashboard import begin, card_views, pages, session

pages.head("cards")
bench = begin.needed()
card_views.show(bench, session.model(bench))
session.watch(bench)
