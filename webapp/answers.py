"""The JSON contract: shapes for the description, and the answer itself from a solved stage."""

from pydantic import BaseModel

from engine import (
    INPUTS,
    OUTPUTS,
    Conditions,
    Coupling,
    declared,
    in_query,
    over_cycle,
    pulse_tables,
    query_from,
    traps_of,
)
from webapp.words import WORDS


class RangeAnswer(BaseModel):
    """A nominal value with its worst-case range."""

    value: float
    low: float
    high: float
    unit: str


class NodeAnswer(BaseModel):
    """A node voltage against the reference of its side, in volt."""

    value: float
    low: float
    high: float
    side: str


class CurrentAnswer(BaseModel):
    """A current, in ampere."""

    value: float
    low: float
    high: float


class PowerAnswer(BaseModel):
    """A power taken, negative where delivered, in watt."""

    value: float
    high: float
    rating: float | None


class ReceiverAnswer(BaseModel):
    """What is read at the output."""

    level: str
    sure: bool


class StateAnswer(BaseModel):
    """One switch state; `indicator` where there is one, else `receiver`: whatever takes the output, a load too."""

    quantities: dict[str, RangeAnswer]
    nodes: dict[str, NodeAnswer]
    currents: dict[str, CurrentAnswer]
    powers: dict[str, PowerAnswer]
    receiver: ReceiverAnswer | None = None
    indicator: ReceiverAnswer | None = None


class TripleAnswer(BaseModel):
    """An alternating quantity: effective value, peak, average of the magnitude."""

    rms: RangeAnswer
    peak: RangeAnswer
    average: RangeAnswer


class StretchAnswer(BaseModel):
    """A part of the period, as shares of it."""

    start: float
    width: float


class PulsesAnswer(BaseModel):
    """Pulse widths over a resistor, with the weakest, the nominal and the strongest coupler, in second."""

    over: str
    ohms: list[float]
    widths: list[list[float]]


class CycleAnswer(BaseModel):
    """One period of the line; waveforms from its rising zero crossing on, LED current nominal, weakest, strongest."""

    frequency: float
    line: list[float]
    IF: list[list[float]]
    out: list[list[float]] | None
    limits: list[float]
    electrical: dict[str, TripleAnswer]
    figures: dict[str, RangeAnswer]
    powers: dict[str, RangeAnswer]
    unlit: list[StretchAnswer]
    pulses: list[PulsesAnswer]


class SizedAnswer(BaseModel):
    """A resistor; `exact` is null where no resistor gives the wanted current."""

    exact: float | None
    chosen: float
    automatic: bool
    series: str
    rounding: str


class MendAnswer(BaseModel):
    """A remedy and the scenario that has it."""

    text: str
    scenario: str


class FindingAnswer(BaseModel):
    """One check of the stage."""

    code: str
    severity: str
    value: float
    limit: float
    margin: float
    unit: str
    condition: str
    reason: str
    mend: MendAnswer | None


class TrapAnswer(BaseModel):
    """A value that looks like a mistake: its field, the figure that decides, what that is held against."""

    code: str
    field: str
    text: str
    value: float
    limit: float
    unit: str
    mend: MendAnswer | None


class StageAnswer(BaseModel):
    """A solved stage. "closed" is the state in which the LED is meant to be lit."""

    scenario: str
    states: dict[str, StateAnswer]
    sizing: dict[str, SizedAnswer]
    findings: list[FindingAnswer]
    traps: list[TrapAnswer]
    cycle: CycleAnswer | None = None


class RejectedField(BaseModel):
    """One rejected field."""

    field: str
    given: str
    accepted: str
    reason: str


class ProblemDocument(BaseModel):
    """Problem details after RFC 9457."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[RejectedField]


def _parameter(key, accepted, words, default):
    """Return the description of one query parameter."""
    schema = {"type": "string", "default": default}
    if words:
        schema["enum"] = list(words)
    text = WORDS[key].help if key in WORDS else "Kind of side."
    return {
        "name": key,
        "in": "query",
        "required": False,
        "description": f"{text} Accepts {accepted}.",
        "schema": schema,
    }


def _query_parameters():
    """Return the description of every query parameter; the first kind that has one states its default."""
    sides = [("in", INPUTS), ("out", OUTPUTS)]
    made = {key: _parameter(key, "one of " + ", ".join(kinds), tuple(kinds), next(iter(kinds))) for key, kinds in sides}
    for record in (*INPUTS.values(), Coupling, *OUTPUTS.values(), Conditions):
        usual = record()
        for name, parameter in declared(record).items():
            value = getattr(usual, name)
            default = value if isinstance(value, str) else in_query(value, parameter.unit)
            words = () if parameter.unit else parameter.words
            made.setdefault(parameter.key, _parameter(parameter.key, parameter.accepted, words, default))
    return list(made.values())


QUERY_PARAMETERS = _query_parameters()


def stage_answer(query, point, found):
    """Return the JSON object of a solved stage."""
    sized = {
        name: {
            "exact": r.exact,
            "chosen": r.chosen,
            "automatic": r.automatic,
            "series": r.series,
            "rounding": r.rounding,
        }
        for name, r in point.sized.items()
    }
    states = {name: _state(point, state) for name, state in point.states.items()}
    answer = {"scenario": query, "states": states, "sizing": sized, "findings": [_finding(f) for f in found]}
    answer["traps"] = [_trap(trap) for trap in traps_of(point, found)]
    return answer | ({"cycle": _cycle(point.scenario)} if point.scenario.input.kind == "ac" else {})


def _cycle(scenario):
    """Return one period of the line."""
    cycle = over_cycle(scenario)
    triples = {
        one.symbol: {name: _with_unit(getattr(one, name)) for name in ("rms", "peak", "average")}
        for one in cycle.electrical
    }
    return {
        "frequency": scenario.input.f,
        "line": cycle.line.tolist(),
        "IF": cycle.IF.tolist(),
        "out": None if cycle.out is None else cycle.out.tolist(),
        "limits": list(cycle.limits),
        "electrical": triples,
        "figures": {name: _with_unit(found) for name, found in cycle.figures.items()},
        "powers": {part: _with_unit(found) for part, found in cycle.powers.items()},
        "unlit": [{"start": stretch.start, "width": stretch.width} for stretch in cycle.unlit],
        "pulses": [{"over": t.over, "ohms": t.ohms, "widths": t.widths} for t in pulse_tables(scenario)],
    }


def _with_unit(found):
    """Return value, low, high and unit."""
    return _bounds(found) | {"unit": found.unit}


def _bounds(found):
    """Return value, low and high."""
    return {"value": found.value, "low": found.low, "high": found.high}


def _state(point, state):
    """Return one switch state."""
    reader = "indicator" if point.scenario.output.kind == "indicator" else "receiver"
    return {
        "quantities": {name: _bounds(found) | {"unit": found.unit} for name, found in state.quantities.items()},
        "nodes": {name: _bounds(found) | {"side": point.sides[name]} for name, found in state.nodes.items()},
        "currents": {part: _bounds(found) for part, found in state.currents.items()},
        "powers": {p: {"value": w.value, "high": w.high, "rating": w.rating} for p, w in state.powers.items()},
        reader: {"level": state.verdict.level, "sure": state.verdict.sure},
    }


def _finding(found):
    """Return one finding."""
    names = ("code", "severity", "value", "limit", "margin", "unit", "condition", "reason")
    return {name: getattr(found, name) for name in names} | {"mend": _mend(found.mend)}


def _trap(found):
    """Return one trap."""
    value, limit, unit = found.decides
    figures = {"value": value, "limit": limit, "unit": unit}
    return {"code": found.code, "field": found.field, "text": found.text} | figures | {"mend": _mend(found.mend)}


def _mend(mend):
    """Return a remedy, where there is one."""
    return {"text": mend.text, "scenario": query_from(mend.scenario)} if mend else None
