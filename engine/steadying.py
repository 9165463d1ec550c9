"""What would let a stage stand steeper steps between its grounds, each change tried."""

from dataclasses import dataclass, replace
from functools import lru_cache

from engine.common_mode import Steepest, barrier_of, largest_slopes, why_unfollowed
from engine.errors import ScenarioError
from engine.sizing import size

_RBE = 100e3  # [ohm], base resistor that is tried
_CL, _MORE_CL, _MOST_CL = 1e-9, 10.0, 1e-3  # [F, -, F], load capacitance that is tried, at least so many times as large


@dataclass(frozen=True, slots=True)
class Steadying:
    """One change and what it would give.

    Attributes
    ----------
    change : str
        "" for the stage as it is, else "screen", "RL", "IF", "CL" or "RBE".
    value : float
        What the changed part would be; 0 for a screen and for the stage as it is [ohm, F, or - for a multiple of IF].
    steepest : Steepest
        The steepest ramp that leaves both levels standing.
    scenario : Scenario
        The stage with it; a screen changes nothing in it.
    """

    change: str
    value: float
    steepest: Steepest
    scenario: object


@lru_cache(maxsize=16)
def steadied(scenario, dV):
    """Return the steepest ramp that a stage stands as it is, and with one thing changed at a time.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    dV : float
        Size of the step, above 0 [V].

    Returns
    -------
    tuple of Steadying
        The stage as it is first; empty where its output is not followed.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    if why_unfollowed(scenario):
        return ()
    tried = [("", 0.0, scenario), ("screen", 0.0, scenario), *_changes(scenario)]
    cases = [(stage, barrier_of(stage, change == "screen")) for change, _, stage in tried]
    slopes = largest_slopes(cases, dV)
    return tuple(
        Steadying(change, value, found, stage)
        for (change, value, stage), found in zip(tried, slopes, strict=True)
        if found is not None
    )


def _changes(scenario):
    """Yield what is changed, to what, and the stage with it; nothing that the stage would refuse."""
    sized, side, load = size(scenario), scenario.input, scenario.output
    RL, R1 = sized["RL"].chosen / 2.0, sized["R1"].chosen / 2.0
    driven = replace(side, IF=2.0 * side.IF) if side.kind == "limited" else replace(side, R1=R1)
    made = [("RL", RL, {"output": replace(load, RL=RL)}), ("IF", 2.0, {"input": driven})]
    if hasattr(load, "C_load"):
        CL = min(max(_CL, _MORE_CL * load.C_load), _MOST_CL)
        made.append(("CL", CL, {"output": replace(load, C_load=CL)}))
    if scenario.coupling.RBE == "none" and scenario.coupling.data.base_lead:
        made.append(("RBE", _RBE, {"coupling": replace(scenario.coupling, RBE=_RBE)}))
    for change, value, parts in made:
        try:
            yield change, value, replace(scenario, **parts)
        except ScenarioError:
            continue
