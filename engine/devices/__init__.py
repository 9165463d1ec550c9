"""Device equations: control voltages and parameters in, currents and their derivatives out.

Every function is vectorised over the batch and is used alike by every kind of analysis. Nothing here knows
circuits, cards or text.
"""

from engine.devices.detector import DetectorParams, detector, detector_guess
from engine.devices.junction import JunctionParams, junction, limited_step
from engine.devices.limited_input import LimitedInputParams, limited_input, voltage_at
from engine.devices.mosfet import MosfetParams, mosfet
from engine.devices.photocurrent import PhotoLaw, photocurrent
from engine.devices.tabled import TabledParams, tabled
from engine.devices.threshold import ThresholdParams, threshold

__all__ = [
    "DetectorParams",
    "JunctionParams",
    "LimitedInputParams",
    "MosfetParams",
    "PhotoLaw",
    "TabledParams",
    "ThresholdParams",
    "detector",
    "detector_guess",
    "junction",
    "limited_input",
    "limited_step",
    "mosfet",
    "photocurrent",
    "tabled",
    "threshold",
    "voltage_at",
]
