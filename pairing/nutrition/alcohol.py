"""Alcohol by volume: ethanol and water take up less room together than apart, so that tables of densities are asked.

The density of ethanol and water at 20 °C is the general formula of OIML R 22 (International Alcoholometric Tables,
1975), whose coefficients are from memory: they give 998.20 kg/m³ without ethanol, 948.05 at 40 % vol and 789.24 for
ethanol, as the tables do, and lie within 0.03 % of Melinder's data (2010) up to 60 % by mass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pairing.model.base import Base
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML

if TYPE_CHECKING:
    import numpy as np

__all__ = ["base_without_ethanol_g_per_ml", "ethanol_pct_vv", "mixture_g_per_ml"]

_KG_PER_M3 = (
    *(998.2012300, -192.9769495, 389.1238958, -1668.103923, 13522.15441, -88292.78388),
    *(306287.4042, -613838.1234, 747017.2998, -547846.1354, 223446.0334, -39032.85426),
)
"""Coefficients of the powers of the mass fraction of ethanol, 20 °C."""


def mixture_g_per_ml(ethanol_g_per_g: Any) -> Any:
    """Return the density of ethanol and water at 20 °C, g/ml, by the mass fraction of ethanol.

    Examples
    --------
    >>> [round(mixture_g_per_ml(share), 5) for share in (0.0, 0.333, 1.0)]
    [0.9982, 0.94804, 0.78924]
    """
    value = 0.0
    for coefficient in reversed(_KG_PER_M3):
        value = value * ethanol_g_per_g + coefficient
    return value / 1000.0


def ethanol_pct_vv(
    ethanol_g: np.ndarray | float, finished_g: np.ndarray | float, density_g_per_ml: np.ndarray | float
) -> np.ndarray:
    """Return % by volume at 20 °C of ethanol in finished drink, for arrays; never above 100.

    What is no ethanol takes up the room of as much water, and what it takes up beyond that without ethanol.

    Parameters
    ----------
    ethanol_g, finished_g : array or float
        g; NaN is unknown and stays so.
    density_g_per_ml : array or float
        Of the base without its ethanol; NaN takes 1.03 g/ml.

    References
    ----------
    OIML R 22:1975, International Alcoholometric Tables.

    Examples
    --------
    >>> [round(float(ethanol_pct_vv(g, 100.0, 0.9982)), 2) for g in (0.5, 19.5, 33.3, 100.0)]
    [0.63, 23.95, 40.0, 100.0]
    """
    import numpy as np

    density = np.asarray(density_g_per_ml, dtype=float)
    density = np.where(np.isnan(density), DEFAULT_DENSITY_G_PER_ML, density)
    share = np.clip(np.asarray(ethanol_g, dtype=float) / np.asarray(finished_g, dtype=float), 0.0, 1.0)
    ml_per_g = 1.0 / mixture_g_per_ml(share) + (1.0 - share) * _beyond_water(density)
    return np.asarray(np.minimum(100.0 * share / mixture_g_per_ml(1.0) / ml_per_g, 100.0))


def base_without_ethanol_g_per_ml(base: Base) -> float | None:
    """Return the density that a base would have without its ethanol, g/ml; None where none is stated.

    Examples
    --------
    >>> spirit = Base(base_id="spirit", name="Spirit", ethanol_g_per_100g=33.3, density_g_per_ml=0.94805)
    >>> round(base_without_ethanol_g_per_ml(spirit), 3)
    0.998
    """
    share = (base.ethanol_g_per_100g or 0.0) / 100.0
    if base.density_g_per_ml is None or not 0 < share < 1:
        return base.density_g_per_ml
    beyond = (1.0 / base.density_g_per_ml - 1.0 / mixture_g_per_ml(share)) / (1.0 - share)
    ml_per_g = 1.0 / mixture_g_per_ml(0.0) + beyond
    return float(1.0 / ml_per_g) if ml_per_g > 0 else base.density_g_per_ml


def _beyond_water(density_g_per_ml: Any) -> Any:
    """Return the room that 1 g takes up beyond that of water, ml."""
    return 1.0 / density_g_per_ml - 1.0 / mixture_g_per_ml(0.0)
