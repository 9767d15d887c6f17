"""Recipe cards: one page per recipe, for one cup or twenty litres, to print or to keep."""

from pairing_dashboard import begin, card_views, parts, session

parts.title("Recipe cards", "One page: what goes in, how, what it comes to, what to mind, how sure it is.")
bench = begin.needed()
card_views.show(bench, session.model(bench))
session.watch(bench)
