"""Next cups: the brief, what is worth trying, and why."""

from pairing_dashboard import begin, brief_form, pages, session, suggestion_cards

pages.head("next_cups")
bench = begin.needed()
suggestion_cards.in_hand(bench)
suggestion_cards.show(bench, brief_form.ask(bench))
session.watch(bench)
session.learning(bench)  # ready before a cup is started; the page is drawn by now
