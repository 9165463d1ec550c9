"""From card to device model: parameters that make the device equations meet the lines of a data sheet.

Temperature, spread and ageing act on parameters; nothing is ever multiplied onto a result.
"""

from functools import lru_cache

import numpy as np

from engine.coupler.files import load_card
from engine.coupler.switching import (
    GateDriverModel,
    LogicGateModel,
    MosfetRelayModel,
    OptoTriacModel,
    fit_switching,
)
from engine.coupler.transistor import CascadeModel, TransistorModel, fit_transistor
from engine.errors import CardError, ConvergenceError

_SWITCHING = {
    "logic-gate": LogicGateModel,
    "gate-driver": GateDriverModel,
    "mosfet-relay": MosfetRelayModel,
    "opto-triac": OptoTriacModel,
}


def _fit(card):
    if card.family in _SWITCHING:
        return fit_switching(card, _SWITCHING[card.family])
    if card.family == "photodarlington":
        return fit_transistor(card, CascadeModel, (1.0 + card.beta) * (1.0 + card.beta_output))
    return fit_transistor(card, TransistorModel, 1.0 + card.beta)


@lru_cache(maxsize=64)
def model_of(card):
    """Return the device model of a card.

    Parameters
    ----------
    card : Card
        The card, of any family.

    Returns
    -------
    TransistorModel or SwitchingModel
        The calibrated model: `card`, `led`, `terminals`, `spread`, `VF_shifts`, `place`.

    Raises
    ------
    CardError
        If its lines contradict one another, or no device meets them.

    References
    ----------
    Derived here, on the device equations of `engine.devices`.
    """
    try:
        with np.errstate(all="ignore"):
            return _fit(card)
    except (ConvergenceError, np.linalg.LinAlgError, ValueError, OverflowError) as error:
        if isinstance(error, CardError):
            raise
        raise CardError(card.name, "detector", "no detector could be found that meets the lines") from error


def calibrated(name):
    """Return the device model of a shipped card.

    Parameters
    ----------
    name : str
        One of `card_names`.

    Returns
    -------
    TransistorModel or SwitchingModel
        The calibrated model.

    Raises
    ------
    CardError
        If there is no such card, or its lines contradict one another.
    """
    return model_of(load_card(name))
