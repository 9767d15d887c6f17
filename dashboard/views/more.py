"""More: every page that has no place in the bar of a phone."""

from pairing_dashboard import navigation, pages, people

pages.head("more")
navigation.listed(navigation.own_pages(), without=tuple(it.name for it in pages.BAR), leads=True)
people.leave()
