"""One drawing for each kind of side: where its parts stand, how they are wired, where the labels go.

Geometry only. The engine's names of parts and nodes tie a drawing to a solved stage.
"""

from webapp.present.drawings.ac_load import ac_load, ac_triac
from webapp.present.drawings.contact import contact_high, contact_low, limited
from webapp.present.drawings.follower import controller, dc_load, relay
from webapp.present.drawings.gate import gate
from webapp.present.drawings.indicator import indicator
from webapp.present.drawings.logic_output import logic_output
from webapp.present.drawings.mains import ac_line
from webapp.present.drawings.measured import measured
from webapp.present.drawings.pulled import pull_down, pull_up
from webapp.present.drawings.sensor import sinking_sensor, sourcing_sensor, two_wire_sensor
from webapp.present.drawings.transistor import transistor

DRAWINGS = {
    "contact-low": contact_low,
    "contact-high": contact_high,
    "sinking": sinking_sensor,
    "sourcing": sourcing_sensor,
    "two-wire": two_wire_sensor,
    "logic": logic_output,
    "transistor": transistor,
    "limited": limited,
    "measured": measured,
    "ac": ac_line,
    "pull-up": pull_up,
    "pull-down": pull_down,
    "indicator": indicator,
    "controller": controller,
    "relay": relay,
    "gate": gate,
    "dc-load": dc_load,
    "ac-load": ac_load,
    "ac-triac": ac_triac,
}
"""Kind of side to the function that lays it out."""
