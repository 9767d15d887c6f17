"""Plugins: what is loaded, what is wrong with it and what to do, and what a reload changes."""

from pairing_dashboard import begin, parts, plugin_views

parts.title("Plugins", "Bases and rules from elsewhere: how each fares, and what the log made of it.")
plugin_views.show(begin.needed())
