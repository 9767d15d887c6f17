"""Recipes: what was kept by name, its versions, and what stands behind each."""

from pairing_dashboard import begin, pages, recipe_views, session

pages.head("recipes")
bench = begin.needed()
recipe_views.show(bench)
session.watch(bench)
