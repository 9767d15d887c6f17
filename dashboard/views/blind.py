"""Blind checks: tell a real difference from a hoped-for one, serving by serving."""

from pairing_dashboard import begin, blind_views, parts

parts.title("Blind checks", "Coded cups tell a real difference from a hoped-for one.")
blind_views.show(begin.needed())
