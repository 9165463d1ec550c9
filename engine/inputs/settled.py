"""What a circuit at one instant needs to know of what led there: for sides whose voltages change all the time."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Settled:
    """What a side has settled to before its circuit is solved.

    Attributes
    ----------
    values : dict of str to ndarray, shape (batch,)
        Further values that the side's `wire` takes, in SI units.
    powers : dict of str to ndarray, shape (batch,)
        Part to its power averaged over time, where that is not the one of the instant [W].
    """

    values: dict = field(default_factory=dict)
    powers: dict = field(default_factory=dict)
