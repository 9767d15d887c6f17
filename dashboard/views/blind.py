"""Blind checks: tell a real difference from a hoped-for one, serving by serving."""

from pairing_dashboard import blind_views, parts, session

parts.title("Blind checks", "Coded cups tell a real difference from a hoped-for one.")
blind_views.show(session.needed())
