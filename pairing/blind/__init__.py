"""Coded comparisons that tell a real difference from a hoped-for one."""
