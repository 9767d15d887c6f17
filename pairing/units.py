"""Amounts and label directions as people write them, in g/kg of finished drink: the public names of `quantities`."""

from __future__ import annotations

from pairing.quantities.amounts import Amount, amount_to_g, assumed, parse_amount
from pairing.quantities.calibration import Calibration, calibrate
from pairing.quantities.directions import Direction, label_dose, parse_direction
from pairing.quantities.drops import DropMass, drop_mass

__all__ = [
    "Amount",
    "Calibration",
    "Direction",
    "DropMass",
    "amount_to_g",
    "assumed",
    "calibrate",
    "drop_mass",
    "label_dose",
    "parse_amount",
    "parse_direction",
]
