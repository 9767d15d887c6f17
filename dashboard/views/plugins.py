"""Plugins: what is loaded, what is wrong with it and what to do, and what a reload changes."""

from pairing_dashboard import begin, pages, plugin_views

pages.head("plugins")
plugin_views.show(begin.needed())
