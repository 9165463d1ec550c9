"""From the lines of a card on speed to what the coupler stores; found only where somebody asks how long it takes."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from engine.coupler.calibrate import model_of
from engine.coupler.families import TransistorCard
from engine.coupler.pulsed import Pulse, drive_for, pulsed
from engine.coupler.stored import Charges, stores_of
from engine.errors import CardError, ConvergenceError

__all__ = ["Charges", "charges_of", "speed_tests", "stores_of"]

_FOLLOWED = 100.0  # [-], how long a test circuit is followed, relative to the longest time that its lines state
_TRIALS = 8  # of a calibration; shipped cards take three or four
_CLOSE = 1e-2  # [-], misfit at which a calibration ends, and change of a parameter's logarithm that is none
_NUDGE = 0.1  # [-], change of a parameter's logarithm that shows its effect
_LONGEST_STEP = 1.5  # [-], of a parameter's logarithm in one trial
_WEAK = 1e-2  # [-], effect below which a parameter is left alone
_ENDS = {"transit_F": (1e-12, 1e-6), "C_bc": (0.2e-12, 2e-9), "transit_R": (1e-10, 1e-3)}
"""What of a class a line may move, and how far [s, F, s]."""


@dataclass(frozen=True, slots=True)
class SpeedTests:
    """The test circuits of a card's lines on speed, and what is read there.

    Attributes
    ----------
    names : tuple of str
        Of "linear" and "saturated" what the card states, in this order.
    pulse : Pulse
        The circuits, shape (tests,).
    """

    names: tuple
    pulse: Pulse

    def repeated(self, times):
        """Return all circuits again and again.

        Parameters
        ----------
        times : int
            How often [-].

        Returns
        -------
        Pulse
            The circuits, shape (times x tests,).
        """
        return Pulse(*(np.tile(getattr(self.pulse, name), times) for name in self.pulse.__dataclass_fields__))


def speed_tests(model):
    """Return the test circuits of a card's lines on speed.

    Parameters
    ----------
    model : TransistorModel
        The calibrated coupler.

    Returns
    -------
    SpeedTests or None
        The circuits; None where the card has no such lines.

    Raises
    ------
    CardError
        If no LED current gives the collector current of the linear test.
    """
    card, found = model.card, {}
    if card.linear_VCC is not None:
        VCE = card.linear_VCC - card.linear_IC * card.linear_RL
        IF = drive_for(model, card.linear_IC, VCE, "speed.linear.IC")
        found["linear"] = card.linear_VCC, IF, card.linear_RL, max(card.linear_rise, card.linear_fall)
    if card.saturated_VCC is not None:
        longest = max(card.saturated_on, card.saturated_off)
        found["saturated"] = card.saturated_VCC, card.saturated_IF, card.saturated_RL, longest
    if not found:
        return None
    VCC, IF, RL, longest = np.array(list(found.values())).T
    return SpeedTests(tuple(found), Pulse(VCC, IF, RL, _FOLLOWED * longest))


def _wanted(card, names):
    """Return what is to be met, by the parameter that moves it most [s]."""
    wanted = {"transit_F": card.linear_rise} if "linear" in names else {}
    if "saturated" in names:
        wanted |= {"C_bc": card.saturated_off - card.saturated_storage, "transit_R": card.saturated_storage}
    return wanted


def _read(edges, names, trials):
    """Return the same times as `_wanted`, shape (trials, times)."""
    found = []
    if "linear" in names:
        found.append(edges.rise.reshape(trials, -1)[:, 0])
    if "saturated" in names:
        found += [times.reshape(trials, -1)[:, -1] for times in (edges.fall, edges.storage)]
    return np.stack(found, axis=1)


def _met(model, tests, given):
    """Return the charges that meet the tests as well as can be, by Newton's method in logarithms."""
    wanted = _wanted(model.card, tests.names)
    moved, aim = list(wanted), np.log(list(wanted.values()))
    low, high = np.log([_ENDS[name] for name in moved]).T
    size = len(moved)
    x = np.log([getattr(given, name) for name in moved])
    best, least = x, np.inf
    for _ in range(_TRIALS):
        tried = x + _NUDGE * np.vstack((np.zeros(size), np.eye(size)))
        values = {name: np.repeat(np.exp(tried[:, k]), len(tests.names)) for k, name in enumerate(moved)}
        edges = pulsed(model, tests.repeated(size + 1), replace(given, **values))
        read = np.log(np.maximum(_read(edges, tests.names, size + 1), 1e-15))
        misfit = read[0] - aim
        if np.abs(misfit).max() < least:
            best, least = x, np.abs(misfit).max()
        if least <= _CLOSE:
            break
        step = np.linalg.lstsq((read[1:] - read[0]).T / _NUDGE, -misfit, rcond=_WEAK)[0]
        before, x = x, np.clip(x + np.clip(step, -_LONGEST_STEP, _LONGEST_STEP), low, high)
        if np.abs(x - before).max() <= _CLOSE:
            break
    return replace(given, **dict(zip(moved, np.exp(best).tolist(), strict=True)))


@lru_cache(maxsize=64)
def _charges_of_card(card):
    given = Charges() if card.LED_capacitance is None else Charges(C_led=card.LED_capacitance)
    if not isinstance(card, TransistorCard):
        return given
    model = model_of(card)
    try:
        with np.errstate(all="ignore"):
            tests = speed_tests(model)
            return given if tests is None else _met(model, tests, given)
    except (ConvergenceError, np.linalg.LinAlgError) as error:
        raise CardError(card.name, "speed", "no charges could be found that meet the lines") from error


def charges_of(model):
    """Return what a coupler stores, as its card's lines on speed ask for.

    Parameters
    ----------
    model : TransistorModel or SwitchingModel
        The calibrated coupler.

    Returns
    -------
    Charges
        The charges; what the card has no line for is that of a class.

    Raises
    ------
    CardError
        If the test circuits of the lines cannot be solved.

    Notes
    -----
    The rise time of the linear test is met by `transit_F`, storage time and the rest of the turn-off time of the
    saturated test by `transit_R` and `C_bc`, all together; so the fall of the linear test and the turn-on time follow.
    A collector capacitance acts current gain times as large on a load resistor, and so governs how long a saturated
    output takes to rise; at 100 ohm the charge of the base governs.
    Lines that no charges meet are missed as little as the search finds.

    References
    ----------
    Derived here, on the stores of `engine.circuit`.
    """
    return _charges_of_card(model.card)
