"""The charts of speed against a resistor: highest rate, margins, and what the speed costs, one above the other."""

from engine import PullUp, Tradeoff, Wanted
from webapp.present.chart import Band, Chart, Column, Level, Line, Mark, Zone, finite, read

_TALL, _LOW = 430, 330  # heights of the drawings
_CUT = (-1.0, 2.0)  # [-], margins that are drawn: beyond, nothing depends on how much there is
_FAR = 10.0  # [-], how far beyond all rates a wanted one still is drawn


def charts_of(found: Tradeoff, wanted: Wanted | None, answer: PullUp | None) -> tuple[Chart, ...]:
    """Return the charts of a stage over one of its resistors, with what is wanted and the resistor that answers it."""
    x = Column(found.part, "ohm", finite(found.R))
    marks = () if found.present is None else (Mark(found.present, f"now {read(found.present, 'ohm')}", strong=True),)
    if answer and answer.RL is not None and answer.RL != found.present:
        marks += (Mark(answer.RL, f"wanted {read(answer.RL, 'ohm')}"),)
    return _rates(found, wanted, x, marks), _margins(found, x, marks), _costs(found, x, marks)


def _zones(found: Tradeoff, named: bool) -> tuple[Zone, ...]:
    """Return the stretches where a finding fails, but for those that are the whole ladder; the longest first."""
    ends = found.R[0], found.R[-1]
    some = [one for one in found.stretches if (one.low, one.high) != ends]
    some.sort(key=lambda one: one.low / one.high)
    return tuple(Zone(one.low, one.high, f"fails: {one.title}" if named else "") for one in some)


def _rates(found, wanted, x, marks):
    speed = found.speed
    rate, worst, best = (
        Column(name, "Hz", tuple(value or None for value in finite(values)))
        for name, values in (
            ("highest rate, nominal", speed.rate),
            ("at worst", speed.worst),
            ("at best", speed.best),
        )
    )
    times = (
        ("tPHL", speed.tPHL),
        ("tPLH", speed.tPLH),
        ("slower edge, at worst", speed.edge),
        ("on, surely read", speed.on),
        ("storage, off", speed.storage),
    )
    return Chart(
        key="tradeoff-rate",
        title=f"Highest rate over {found.part}",
        condition="Square wave whose slower edge is surely read; worst of the corners that are extreme for speed",
        x=x,
        log_x=True,
        y_name="highest rate",
        y_unit="Hz",
        columns=(rate, worst, best, *(Column(name, "s", finite(values)) for name, values in times)),
        lines=(Line(rate, "main", "nominal"), Line(worst, "beside", "at worst")),
        bands=(Band(worst, best, "corners", "all corners"),),
        limits=tuple(_levels(found, wanted)),
        marks=marks,
        zones=_zones(found, named=True),
        log_y=True,
        height=_TALL,
    )


def _levels(found, wanted):
    """Yield rates across: the wanted one, and that without a base resistor."""
    if found.bare:
        yield Level(found.bare, "without RBE, at worst")
    rates = [rate for rate in (*found.speed.rate, *found.speed.worst) if rate > 0.0]
    rate = wanted.rate if wanted else None
    if rate and rates and min(rates) / _FAR <= rate <= max(rates) * _FAR:
        yield Level(rate, f"wanted {read(rate, 'Hz')}")


def _margins(found, x, marks):
    saturation, level = finite(found.room.overdrive - 1.0), finite(found.room.level)
    columns = [Column("saturation margin", "1", saturation), Column("level margin", "1", level)]
    names = ("saturation", "levels")
    kinds = ("main", "beside")
    lines = tuple(
        Line(Column(column.name, "1", _cut(column.values)), kind, name)
        for column, kind, name in zip(columns, kinds, names, strict=True)
        if any(value is not None for value in column.values)
    )
    return Chart(
        key="tradeoff-margin",
        title=f"Margins at worst over {found.part}",
        condition="Saturation: collector current there is beyond that needed; levels: the worse of both; drawn up to "
        f"{read(_CUT[1], '1')}",
        x=x,
        log_x=True,
        y_name="margin",
        y_unit="1",
        columns=(*columns, Column("available CTR", "1", finite(found.room.CTR))),
        lines=lines,
        limits=(Level(0.0, "the limit"),),
        marks=marks,
        zones=_zones(found, named=False),
        height=_LOW,
    )


def _cut(values):
    """Return margins within what is drawn."""
    return tuple(None if value is None else min(max(value, _CUT[0]), _CUT[1]) for value in values)


def _costs(found, x, marks):
    cost = found.cost
    made = {
        "RL": ("power while lit", "W", [("from VCC", "from VCC", cost.P_VCC), ("RL power", "RL", cost.P_RL)]),
        "RBE": ("CTR", "1", [("available CTR at worst", "at worst", found.room.CTR)]),
        "R1": ("current while lit", "A", [("LED current IF", "IF", cost.IF)]),
    }
    beside = {
        "RL": ("supply current while lit", "A", cost.IL),
        "RBE": ("dark current at worst", "A", cost.I_dark),
        "R1": ("R1 power", "W", cost.P_R1),
    }
    (y_name, unit, drawn), (name, other, values) = made[found.part], beside[found.part]
    columns = [Column(column, unit, finite(numbers)) for column, _, numbers in drawn]
    kinds = ("main", "beside")
    return Chart(
        key="tradeoff-cost",
        title=f"What it costs over {found.part}: {y_name}",
        condition="Nominal stage" if found.part != "RBE" else "At the corner where it is least",
        x=x,
        log_x=True,
        y_name=y_name,
        y_unit=unit,
        columns=(*columns, Column(name, other, finite(values))),
        lines=tuple(
            Line(column, kind, name) for column, kind, (_, name, _) in zip(columns, kinds, drawn, strict=False)
        ),
        marks=marks,
        zones=_zones(found, named=False),
        log_y=found.part != "RBE",
        height=_LOW,
    )
