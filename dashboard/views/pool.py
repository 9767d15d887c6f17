"""Other kitchens: what is known from them, and what would leave this one."""

from pairing_dashboard import begin, pages, pool_views

pages.head("pool")
pool_views.show(begin.needed())
