"""Couplers: cards (the lines of a data sheet) and the device models calibrated from them."""

from engine.coupler.calibrate import calibrated, model_of
from engine.coupler.card import Card
from engine.coupler.families import CARD_FAMILIES, TransistorCard
from engine.coupler.files import (
    LONGEST_CARD,
    LONGEST_PACKED,
    card_from_toml,
    card_names,
    card_to_toml,
    load_card,
    pack_card,
    unpack_card,
)
from engine.coupler.led import LedModel
from engine.coupler.lines import Derating
from engine.coupler.report import CardLine, lines_of

__all__ = [
    "CARD_FAMILIES",
    "LONGEST_CARD",
    "LONGEST_PACKED",
    "Card",
    "CardLine",
    "Derating",
    "LedModel",
    "TransistorCard",
    "calibrated",
    "card_from_toml",
    "card_names",
    "card_to_toml",
    "lines_of",
    "load_card",
    "model_of",
    "pack_card",
    "unpack_card",
]
