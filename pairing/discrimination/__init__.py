"""Arithmetic of telling two cups apart: exact binomial counts, and d′."""
