"""Device equations: control voltages and parameters in, currents and their derivatives out.

Every function is vectorised over the batch and is used alike by every kind of analysis. Nothing here knows
circuits, cards or text.
"""

from engine.devices.detector import DetectorParams, detector, detector_guess
from engine.devices.junction import JunctionParams, junction, limited_step
from engine.devices.mosfet import MosfetParams, mosfet
from engine.devices.photocurrent import PhotoLaw, photocurrent

__all__ = [
    "DetectorParams",
    "JunctionParams",
    "MosfetParams",
    "PhotoLaw",
    "detector",
    "detector_guess",
    "junction",
    "limited_step",
    "mosfet",
    "photocurrent",
]
