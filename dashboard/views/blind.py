"""Blind checks: tell a real difference from a hoped-for one, serving by serving."""

from pairing_dashboard import begin, blind_views, pages

pages.head("blind")
blind_views.show(begin.needed())
