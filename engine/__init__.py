"""The face of the engine: everything that pages, answers and scripts may use.

A scenario comes from a query string, is solved, judged and explained; nothing here knows pages.
"""

from engine.coupler import (
    BARRIER_LINES,
    CARD_FAMILIES,
    LONGEST_CARD,
    TransistorCard,
    card_from_toml,
    card_from_typed,
    card_names,
    card_to_toml,
    curves_of,
    line_of,
    lines_of,
    load_card,
    pack_card,
    typed_lines,
    typed_of,
    unpack_card,
)
from engine.cycling import OverCycle, over_cycle, pulse_tables
from engine.errors import CardError, ConvergenceError, EngineError, Problem, QuantityError, ScenarioError
from engine.findings import HAZARDOUS_AC, HAZARDOUS_DC, SEVERITIES, Finding, findings_of
from engine.inputs import INPUTS
from engine.life import LOOK_AHEAD, MOST_YEARS, Fading, Life, Step, in_service, life_of, staircase_of
from engine.logic import FAMILIES
from engine.operating import STATES, OperatingPoint, operating_point
from engine.outputs import OUTPUTS
from engine.pairing import output_for
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
from engine.traps import TRAPS, Trap, traps_of
from engine.worked import reasoning_of

__all__ = [
    "AMPERE",
    "BARRIER_LINES",
    "CARD_FAMILIES",
    "CELSIUS",
    "FAMILIES",
    "FARAD",
    "HAZARDOUS_AC",
    "HAZARDOUS_DC",
    "HERTZ",
    "INPUTS",
    "KEYS",
    "LONGEST_CARD",
    "LOOK_AHEAD",
    "MOST_YEARS",
    "OHM",
    "OUTPUTS",
    "RATIO",
    "SERIES",
    "SEVERITIES",
    "STATES",
    "TRAPS",
    "UNITS",
    "VOLT",
    "WATT",
    "CardError",
    "Conditions",
    "ConvergenceError",
    "Coupling",
    "EngineError",
    "Fading",
    "Finding",
    "Life",
    "OperatingPoint",
    "OverCycle",
    "Parameter",
    "Problem",
    "QuantityError",
    "Scenario",
    "ScenarioError",
    "Step",
    "TransistorCard",
    "Trap",
    "as_typed",
    "card_from_toml",
    "card_from_typed",
    "card_names",
    "card_to_toml",
    "curves_of",
    "declared",
    "findings_of",
    "in_query",
    "in_service",
    "ladder",
    "life_of",
    "line_of",
    "lines_of",
    "load_card",
    "operating_point",
    "output_for",
    "over_cycle",
    "pack_card",
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
    "staircase_of",
    "traps_of",
    "typed_lines",
    "typed_of",
    "unpack_card",
]
