"""The face of the engine: everything that pages, answers and scripts may use.

A scenario comes from a query string, is solved, judged and explained; nothing here knows pages.
"""

from engine.coupler import card_names, load_card
from engine.cycling import OverCycle, over_cycle, pulse_tables
from engine.errors import CardError, ConvergenceError, EngineError, Problem, QuantityError, ScenarioError
from engine.findings import HAZARDOUS_AC, HAZARDOUS_DC, SEVERITIES, Finding, findings_of
from engine.inputs import INPUTS
from engine.logic import FAMILIES
from engine.operating import STATES, OperatingPoint, operating_point
from engine.outputs import OUTPUTS
from engine.parameter import Parameter, declared
from engine.preferred import SERIES, ladder
from engine.quantity import (
    AMPERE,
    CELSIUS,
    FARAD,
    HERTZ,
    OHM,
    RATIO,
    UNITS,
    VOLT,
    WATT,
    as_typed,
    in_query,
    parse,
    reading,
    shown,
    span,
)
from engine.scenario import Conditions, Coupling, Scenario
from engine.sizing import size
from engine.text import KEYS, pairs_from, query_from, scenario_from, scenario_from_query
from engine.worked import reasoning_of

__all__ = [
    "AMPERE",
    "CELSIUS",
    "FAMILIES",
    "FARAD",
    "HAZARDOUS_AC",
    "HAZARDOUS_DC",
    "HERTZ",
    "INPUTS",
    "KEYS",
    "OHM",
    "OUTPUTS",
    "RATIO",
    "SERIES",
    "SEVERITIES",
    "STATES",
    "UNITS",
    "VOLT",
    "WATT",
    "CardError",
    "Conditions",
    "ConvergenceError",
    "Coupling",
    "EngineError",
    "Finding",
    "OperatingPoint",
    "OverCycle",
    "Parameter",
    "Problem",
    "QuantityError",
    "Scenario",
    "ScenarioError",
    "as_typed",
    "card_names",
    "declared",
    "findings_of",
    "in_query",
    "ladder",
    "load_card",
    "operating_point",
    "over_cycle",
    "pairs_from",
    "parse",
    "pulse_tables",
    "query_from",
    "reading",
    "reasoning_of",
    "scenario_from",
    "scenario_from_query",
    "shown",
    "size",
    "span",
]
