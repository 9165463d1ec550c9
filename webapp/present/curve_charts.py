"""The charts of a stage: characteristics with the load line, transfer curve, room over the coupler, any sweep."""

from engine import (
    ENOUGH,
    RATIO,
    RULES,
    UNITS,
    Scenario,
    as_built,
    as_typed,
    characteristics_of,
    operating_point,
    present_value,
    room_over,
    sweep_of,
    swept_parameters,
    switching_of,
    transfer_of,
)
from webapp.present.chart import TIMES, Band, Chart, Column, Dot, Level, Line, Mark, finite, read
from webapp.present.curve_form import Wanted
from webapp.present.curve_words import short_name

_ABOVE = 2.6  # how far a chart goes beyond the load line's largest current, where curves go far beyond it
_ROOM = 1.15  # the same beyond the curve of the lit stage
_MOST_GAPS = 2  # reasons for gaps that are told


def chart_of(scenario: Scenario, wanted: Wanted) -> Chart:
    """Return the chart that is asked for; raise ScenarioError where the stage or the span cannot be."""
    if wanted.plot == "transfer":
        return _transfer(scenario, wanted.asked)
    if wanted.plot == "room":
        return _room(scenario, wanted.asked, wanted.room)
    if wanted.plot == "any":
        return _any(scenario, wanted)
    return _characteristics(scenario, wanted.V_end) if scenario.coupling.has_ratio else _switching(scenario)


def _within(ends):
    """Return ends of the ambient temperature in words."""
    low, high = (as_typed(end, UNITS["degC"]).replace("-", "−") for end in ends)
    return f"at {low}" if low == high else f"from {low} to {high}"


# ---------------------------------------------------------------- characteristics


def _characteristics(scenario, end):
    found = characteristics_of(scenario, end)
    V = Column("VCE", "V", finite(found.V))
    lit, dark = (max(meeting.IF, 0.0) for meeting in found.meetings)
    names = {dark: "dark", lit: f"{read(lit, 'A')}, lit"}
    lines = [
        Line(Column(f"IC at IF {read(IF, 'A')}", "A", finite(IC)), "main" if IF == lit else "beside", name)
        for IF, IC in found.family
        for name in (names.get(IF, read(IF, "A")),)
    ]
    line = Column("load line", "A", finite(found.line))
    ends = (
        Column("load line, least", "A", finite(found.line_low)),
        Column("load line, most", "A", finite(found.line_high)),
    )
    worst = Column("weakest coupler", "A", finite(found.low)), Column("strongest coupler", "A", finite(found.high))
    told = f"weakest coupler at {read(found.IF_ends[0], 'A')} to strongest at {read(found.IF_ends[1], 'A')}"
    return Chart(
        key="characteristics",
        title="Detector current over its voltage, and the load line",
        condition=f"One curve for each LED current, typical coupler {_within((scenario.conditions.TA,) * 2)}",
        x=V,
        log_x=False,
        y_name="IC",
        y_unit="A",
        columns=(*(one.column for one in lines), *worst, line, *ends),
        lines=(*lines, Line(line, "load", "load line")),
        bands=(
            Band(*worst, "corners", f"{told}, {_within(found.TA_ends)}"),
            Band(*ends, "load", "load line over all corners of supply, resistors and receiver"),
        ),
        dots=tuple(_meeting(scenario, meeting) for meeting in found.meetings),
        notes=_on_load_line(found),
        top=_top(found),
    )


def _meeting(scenario, meeting):
    """Return an operating point with its name."""
    place = scenario.input.states[meeting.state]
    return Dot(meeting.V, meeting.current, f"{place}: {read(meeting.V, 'V')}, {read(meeting.current, 'A')}")


def _top(found):
    """Return where the chart is cut off, so that the load line stays readable."""
    lit = next(IC for IF, IC in found.family if IF == max(found.meetings[0].IF, 0.0))
    highest = max(float(lit.max()), 0.0)
    line = max((value for value in finite(found.line_high) if value is not None), default=0.0)
    if line <= 0.0:
        return None
    return max(min(_ROOM * highest, _ABOVE * line), _ROOM * line)


def _on_load_line(found):
    """Return what there is to say of the load line."""
    if found.straight:
        shape = f"The load line is straight: {read(found.V_open, 'V')} behind {read(found.straight, 'ohm')}."
    else:
        shape = "The load line is bent: what the output side gives was solved at every voltage."
    short = f"Into a short circuit it gives {read(found.I_short, 'A')}."
    return f"{shape} {short}", "Both states lie where a characteristic meets the load line."


def _switching(scenario):
    found = switching_of(scenario)
    typical, least, most = found.threshold
    V = Column("typical coupler", "V", finite(found.V))
    ends = Column("lowest", "V", finite(found.low)), Column("highest", "V", finite(found.high))
    marks = [Mark(least, f"first on {read(least, 'A')}"), Mark(most, f"all on {read(most, 'A')}")]
    marks += [Mark(typical, f"typical {read(typical, 'A')}")]
    if found.IF_lit[0] > found.IF[0]:
        marks.append(Mark(found.IF_lit[0], f"IF {read(found.IF_lit[0], 'A')}", strong=True))
    sure = "it is surely on" if found.IF_lit[1] >= most else "it is not surely on"
    note = (
        f"Lit, the LED gets at least {read(found.IF_lit[1], 'A')}; all couplers are on from {read(most, 'A')}: {sure}."
    )
    return Chart(
        key="characteristics",
        title="Voltage across the coupler's output over LED current",
        condition=f"In this stage; weakest to strongest coupler {_within(found.TA_ends)}",
        x=Column("IF", "A", finite(found.IF)),
        log_x=True,
        y_name="voltage across the output",
        y_unit="V",
        columns=(V, *ends),
        lines=(Line(V, "main", "typical"),),
        bands=(Band(*ends, "corners", "weakest to strongest coupler: between these currents some are on, some off"),),
        marks=tuple(marks),
        dots=tuple(_meeting(scenario, m) for m in found.meetings if m.IF >= found.IF[0]),
        notes=(note,),
    )


# ---------------------------------------------------------------- transfer curve


def _three(series, name):
    """Return a series as columns: nominal, lowest, highest."""
    told = (name, f"{name}, lowest", f"{name}, highest")
    return tuple(
        Column(text, series.unit, values)
        for text, values in zip(told, (series.value, series.low, series.high), strict=True)
    )


def _transfer(scenario, asked):
    found = transfer_of(scenario, asked.low, asked.high, asked.points)
    load, sweep, states = scenario.output, found.sweep, scenario.input.states
    lit, dark = (
        _three(sweep.series(state, found.observed), f"{short_name(found.observed)}, {states[state]}")
        for state in ("closed", "open")
    )
    low, _, high = load.words
    now, least, most = found.supply
    marks = [Mark(now, f"{sweep.symbol} {read(now, 'V')}", strong=True)]
    marks += [Mark(least, "lowest"), Mark(most, "highest")] if least < most else []
    return Chart(
        key="transfer",
        title=f"Output over the input's supply, {states['closed']}",
        condition="Supply as it is along the axis, all corners of everything else",
        x=Column(sweep.symbol, "V", sweep.x),
        log_x=False,
        y_name=short_name(found.observed),
        y_unit=lit[0].unit,
        columns=(*lit, *dark),
        lines=(Line(lit[0], "main", "input on"), Line(dark[0], "beside", "input off")),
        bands=(Band(*lit[1:], "corners", f"{states['closed']}, all corners"),),
        limits=_limits(load, found.limits, lit[0].unit),
        marks=tuple(marks),
        notes=(_sure(found, load, low, high), *_gaps(sweep)),
    )


def _limits(load, limits, unit):
    """Return the values that the reading turns on."""
    low, _, high = load.words
    return Level(limits[0], f"{low} up to {read(limits[0], unit)}"), Level(
        limits[1], f"{high} from {read(limits[1], unit)}"
    )


def _sure(found, load, low, high):
    """Return from which and up to which supply the readings are sure."""
    lit, dark = load.level_when_lit, load.level_when_dark
    symbol = found.sweep.symbol
    first = (
        f"Surely {lit} from {symbol} = {read(found.lit_from, 'V')}"
        if found.lit_from is not None
        else f"Nowhere surely {lit}"
    )
    last = f"surely {dark} up to {read(found.dark_to, 'V')}" if found.dark_to is not None else f"nowhere surely {dark}"
    return f"{first}, {last}."


# ---------------------------------------------------------------- room over the coupler


def _room(scenario, asked, shown):
    found = room_over(scenario, asked.low, asked.high, asked.points)
    ends = zip(("bin from", "bin to"), found.bin, strict=True)
    marks = [Mark(end, f"{name} {read(end, found.unit)}") for name, end in ends]
    marks.append(Mark(found.specimen, f"this one {read(found.specimen, found.unit)}", strong=True))
    x = Column(found.symbol, found.unit, found.x)
    times = _three(found.overdrive, "overdrive")
    times = tuple(Column(column.name, TIMES, column.values) for column in times)
    level = Column("margin of the lit level", RATIO.name, found.level)
    of_level = shown == "level"
    return Chart(
        key="room",
        title=f"{'Margin of the lit level' if of_level else 'Overdrive'} over {found.symbol}",
        condition=f"{found.symbol} at the card's test point as it was bought; all corners of everything else"
        + (f", after {scenario.conditions.years:g} years" if scenario.conditions.years else ""),
        x=x,
        log_x=True,
        y_name="margin" if of_level else "overdrive",
        y_unit=RATIO.name if of_level else TIMES,
        columns=(*times, level) if scenario.coupling.has_ratio else times,
        lines=(Line(level, "main", "at worst"),) if of_level else (Line(times[0], "main", "nominal"),),
        bands=() if of_level else (Band(*times[1:], "corners", "all corners of everything else"),),
        limits=(Level(0.0, "the limit"),) if of_level else (Level(ENOUGH, "just enough"),),
        marks=tuple(marks),
        notes=() if of_level else (_enough(found),),
    )


def _enough(found):
    """Return where overdrive is just enough, in a sentence."""
    nominal, worst = found.enough
    at = f"{found.symbol} = "
    if worst is None and nominal is None:
        known = [value for value in found.overdrive.low if value is not None]
        if not known:
            return "Nothing is asked of the coupler here."
        return "More than enough everywhere here." if known[0] > ENOUGH else "Nowhere enough here."
    told = [f"nominally at {at}{read(nominal, found.unit)}"] if nominal is not None else []
    told += [f"at the worst corner at {at}{read(worst, found.unit)}"] if worst is not None else []
    return f"It is just enough {' and '.join(told)}."


# ---------------------------------------------------------------- any result over any parameter


def _any(scenario, wanted):
    asked = wanted.asked
    stage = as_built(scenario) if wanted.hold == "held" else scenario
    sweep = sweep_of(stage, asked.key, asked.low, asked.high, asked.points, asked.scale)
    state, _, name = wanted.show.partition(":")
    make = _margin if state == "margin" else _result
    columns, lines, bands, limits = make(scenario, sweep, state, name)
    parameter = swept_parameters(scenario)[asked.key]
    now = present_value(scenario, asked.key)
    marks = () if now is None else (Mark(now, f"now {read(now, parameter.unit.name)}", strong=True),)
    return Chart(
        key="any",
        title=f"{columns[0].name} over {sweep.symbol}",
        condition="Nominal stage and all its corners at every value" if bands else "At the worst corner at every value",
        x=Column(sweep.symbol, sweep.unit, sweep.x),
        log_x=asked.scale == "log",
        y_name=RULES[name].title if state == "margin" else short_name(name),
        y_unit=columns[0].unit,
        columns=columns,
        lines=lines,
        bands=bands,
        limits=limits,
        marks=marks,
        notes=_gaps(sweep),
    )


def _margin(scenario, sweep, state, code):
    column = Column(f"{RULES[code].title}, margin", RATIO.name, sweep.margin(code))
    return (column,), (Line(column, "main", "at worst"),), (), (Level(0.0, "the limit"),)


def _result(scenario, sweep, state, name):
    found = _three(sweep.series(state, name), f"{short_name(name)}, {scenario.input.states[state]}")
    limits = ()
    if name == "overdrive":
        found = tuple(Column(column.name, TIMES, column.values) for column in found)
        limits = (Level(ENOUGH, "just enough"),)
    elif name == scenario.output.observed:
        verdict = operating_point(scenario).states[state].verdict
        limits = _limits(scenario.output, (verdict.low_limit, verdict.high_limit), found[0].unit)
    elif name.startswith("P("):
        power = operating_point(scenario).states[state].powers.get(name[2:-1])
        limits = (Level(power.rating, "rating"),) if power and power.rating is not None else ()
    return found, (Line(found[0], "main", "nominal"),), (Band(*found[1:], "corners", "all corners"),), limits


def _gaps(sweep):
    """Return why there are gaps, in sentences."""
    reasons = [reason for reason in dict.fromkeys(sweep.reasons) if reason]
    missing = sum(map(bool, sweep.reasons))
    if not reasons:
        return ()
    told = "; ".join(reason.rstrip(".") for reason in reasons[:_MOST_GAPS])
    return (f"{missing} of {len(sweep.x)} values make no stage: {told}.",)
