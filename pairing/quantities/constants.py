"""What every reader of a quantity takes for granted, each number written once."""

from __future__ import annotations

__all__ = ["DEFAULT_DENSITY_G_PER_ML", "MAX_DOSE_G_PER_KG"]

DEFAULT_DENSITY_G_PER_ML = 1.03
"""Density assumed for a base that states none; results that use it are marked *assumed*."""
MAX_DOSE_G_PER_KG = 999.0
"""Highest dose, and highest sum of doses: some base is left (our choice, no source)."""
