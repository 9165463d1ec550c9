"""Couplers: cards (the lines of a data sheet) and the device models calibrated from them."""

from engine.coupler.calibrate import CouplerModel, LedModel, calibrated
from engine.coupler.card import Card, Derating, card_names, load_card

__all__ = ["Card", "CouplerModel", "Derating", "LedModel", "calibrated", "card_names", "load_card"]
