"""Stages of one shape as one batch, where they differ in more than goes by way of values alone.

Circuits are arrays with the batch axis first, so those of equal shape are laid one after the other.
"""

from dataclasses import fields, is_dataclass, replace

import numpy as np

from engine.circuit import solve
from engine.errors import ConvergenceError
from engine.text import query_from


class UnlikeError(ValueError):
    """Two stages differ in more than numbers that have a batch axis."""


def joined(stages):
    """Return several stages as one.

    Parameters
    ----------
    stages : sequence of Stage
        What is to be solved together; members of all alike.

    Returns
    -------
    Stage
        The scenarios of one after those of the other, as `build_all` lays them out.

    Raises
    ------
    UnlikeError
        If they differ in shape: in parts, nodes or models.
    """
    first = stages[0]
    if len(stages) == 1:
        return first
    if any(stage.members != first.members for stage in stages):
        raise UnlikeError("their corners are not the same")
    netlists = [stage.netlist for stage in stages]
    parts = {name: _laid([getattr(one, name) for one in netlists]) for name in ("sources", "resistors", "devices")}
    for name in ("nodes", "references"):
        if any(getattr(one, name) != getattr(first.netlist, name) for one in netlists):
            raise UnlikeError("their nodes are not the same")
    batch = sum(one.batch for one in netlists)
    end_to_end = {
        name: np.concatenate([getattr(stage, name) for stage in stages]) for name in ("VCC", "RL", "CTR", "leakage")
    }
    varied = {name: np.concatenate([stage.varied[name] for stage in stages]) for name in first.varied}
    return replace(
        first,
        netlist=replace(first.netlist, batch=batch, **parts),
        scenarios=tuple(scenario for stage in stages for scenario in stage.scenarios),
        sizes=tuple(sized for stage in stages for sized in stage.sizes),
        varied=varied,
        powers=_laid([stage.powers for stage in stages]),
        **end_to_end,
    )


def _laid(parts):
    """Return what stands at one place of several stages as one: arrays end to end, the closed halves first."""
    first = parts[0]
    if all(part is first for part in parts):
        return first
    if any(type(part) is not type(first) for part in parts):
        raise UnlikeError("their parts are not the same")
    if isinstance(first, np.ndarray):
        if any(part.ndim != first.ndim or part.shape[1:] != first.shape[1:] or len(part) % 2 for part in parts):
            raise UnlikeError("their arrays are not the same")
        halves = [part.reshape(2, -1, *part.shape[1:]) for part in parts]
        return np.concatenate(halves, axis=1).reshape(-1, *first.shape[1:])
    if isinstance(first, tuple):
        if any(len(part) != len(first) for part in parts):
            raise UnlikeError("they have not as many parts")
        return tuple(_laid(list(place)) for place in zip(*parts, strict=True))
    if isinstance(first, dict):
        if any(part.keys() != first.keys() for part in parts):
            raise UnlikeError("they have other parts")
        return {name: _laid([part[name] for part in parts]) for name in first}
    if is_dataclass(first):
        return replace(first, **{f.name: _laid([getattr(part, f.name) for part in parts]) for f in fields(first)})
    if any(part != first for part in parts):
        raise UnlikeError("they differ in what is no number")
    return first


def solved(stage):
    """Return the solution of a stage.

    Parameters
    ----------
    stage : Stage
        One or several scenarios.

    Returns
    -------
    Solution
        Of all its members.

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect; it carries the query string of the first scenario.
    """
    try:
        return solve(stage.netlist)
    except ConvergenceError as error:
        query = query_from(stage.scenarios[0])
        raise ConvergenceError(error.iterations, error.residual, error.node, query) from error


def parted(stage, solution, which):
    """Return some scenarios of a solved stage.

    Parameters
    ----------
    stage : Stage
        Several scenarios.
    solution : Solution
        Their solution.
    which : ndarray of int
        Places of those that are wanted among its scenarios.

    Returns
    -------
    stage : Stage
        With the values of these; its netlist, of which only the shape matters once it is solved, is left as it is.
    solution : Solution
        Theirs.
    """
    one = (which[:, None] * stage.members + np.arange(stage.members)).ravel()
    both = np.concatenate([one, one + stage.count])
    arrays = {name: getattr(stage, name)[one] for name in ("VCC", "RL", "CTR", "leakage")}
    some = replace(
        stage,
        scenarios=tuple(stage.scenarios[k] for k in which),
        sizes=tuple(stage.sizes[k] for k in which),
        varied={name: array[one] for name, array in stage.varied.items()},
        powers={part: watts[both] for part, watts in stage.powers.items()},
        **arrays,
    )
    solved = {f.name: getattr(solution, f.name) for f in fields(solution)}
    return some, replace(solution, **{name: _picked(found, both) for name, found in solved.items()})


def _picked(found, index):
    """Return what was found for some members."""
    if isinstance(found, dict):
        return {name: array[index] for name, array in found.items()}
    return tuple(array[index] for array in found) if isinstance(found, tuple) else found
