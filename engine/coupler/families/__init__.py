"""The families of couplers: one frozen record of data-sheet lines each."""

from engine.coupler.families.switching import GateDriver, LogicGate, MosfetRelay, OptoTriac, SwitchingCard
from engine.coupler.families.transistor import Photodarlington, Phototransistor, TransistorCard

CARD_FAMILIES = {
    kind.family: kind for kind in (Phototransistor, Photodarlington, LogicGate, GateDriver, MosfetRelay, OptoTriac)
}
"""Family name to its record; the first is meant where a file names none."""

__all__ = [
    "CARD_FAMILIES",
    "GateDriver",
    "LogicGate",
    "MosfetRelay",
    "OptoTriac",
    "Photodarlington",
    "Phototransistor",
    "SwitchingCard",
    "TransistorCard",
]
