"""Device models of couplers with a threshold: a path, or two, that the LED current turns on."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import Junction, ThresholdPath
from engine.constants import SILICON_BAND_GAP, ZERO_CELSIUS, thermal_voltage
from engine.coupler.families import SwitchingCard
from engine.coupler.led import LedModel, VF_shifts, fit_led
from engine.devices import JunctionParams, ThresholdParams
from engine.devices.junction import saturation_current
from engine.numerics import MonotoneCurve

_BLOCKED = 1e-9  # [S], of a push-pull's transistor that is off; a gigohm, no source
_NEVER = 1e6  # [A], threshold of an output that its supply holds off
_BODY_IS = 1e-12  # [A], body diode of a relay's transistor: 0.6 V at 10 mA; common practice, no source
_SHARE = 0.75  # [-], of a triac's on-state voltage that does not depend on its current much; common practice
_MOST_SOFT = 1.5  # [V], the most that it is; no silicon keeps more
_SOFT = 2.0  # [-], emission coefficient of that share
_BLOCKING = -1.0  # [V], where the iteration begins at a junction that blocks


@dataclass(frozen=True, slots=True)
class SwitchingModel:
    """A card and what makes its threshold and output.

    Attributes
    ----------
    card : SwitchingCard
        The card.
    led : LedModel
        The LED.
    warmth : MonotoneCurve or None
        Threshold relative to 25 degC over temperature in degC [-].
    """

    card: SwitchingCard
    led: LedModel
    warmth: MonotoneCurve | None

    terminals: ClassVar[tuple] = ()
    """What `place` takes as nodes of the output, in order; a last one "supply" may be left out."""

    def spread(self):
        """Return what differs from specimen to specimen.

        Returns
        -------
        dict of str to tuple of (float, float, float)
            Nominal value, that of the weakest and that of the strongest specimen, under names of this family; always
            "threshold" [A].
        """
        card = self.card
        return {"threshold": (card.IF_typ, card.IF_on, card.IF_off), **self._output_spread()}

    @property
    def V_lit(self):
        """Return the typical voltage across what conducts while the output is on, at the current of its test [V]."""
        raise NotImplementedError

    def _output_spread(self):
        return {}

    def VF_shifts(self):
        """Return how far the forward voltages of the bin lie from the typical one.

        Returns
        -------
        low : float
            Of the specimen with the smallest forward voltage, negative [V].
        high : float
            Of the specimen with the largest [V].
        """
        return VF_shifts(self.card, self.led)

    def threshold(self, IF, T):
        """Return a threshold at another temperature.

        Parameters
        ----------
        IF : float or ndarray
            Threshold at 25 degC [A].
        T : ndarray, shape (batch,)
            Absolute temperature [K].

        Returns
        -------
        ndarray, shape (batch,)
            Threshold; as at 25 degC where the card states no curve [A].
        """
        return IF * (np.ones_like(T) if self.warmth is None else self.warmth(T - ZERO_CELSIUS)[0])

    def place(self, net, led, out, T, values):
        """Place the coupler.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it; the nodes are declared.
        led : tuple of str
            Anode and cathode.
        out : tuple of str
            Nodes of the `terminals`.
        T : ndarray, shape (batch,)
            Absolute temperature [K].
        values : dict of str to ndarray, shape (batch,)
            The specimen: "shift" of the forward voltage and the keys of `spread`. "IF", the LED current expected, for
            a guess; "VCC", the supply, where the family has one [V, ..., A, V].
        """
        params, knee = self.led.place(net, led, T, values)
        IF_on = self.threshold(values["threshold"], T)

        def path(a, b, G_lit, G_dark, IF_on=IF_on):
            switched = ThresholdParams(params, IF_on, G_lit * np.ones_like(T), G_dark * np.ones_like(T))
            net.device(ThresholdPath("U1", "AJ", led[1], a, b, switched, knee))

        self._place_output(net, out, T, values, path)

    def _place_output(self, net, out, T, values, path):
        """Place the output side; `path` places a switched path between two nodes."""
        raise NotImplementedError

    def _place_supply(self, net, rails, values):
        """Place what the coupler itself takes from its supply, in proportion to it."""
        *_, VCC = self.card.ICC
        net.conductance("U1", *rails, values["ICC"] / VCC)


class LogicGateModel(SwitchingModel):
    """Open collector, low while lit: a conductance through VOL at IOL, and one through IOH at VO while dark.

    The supply current is in proportion to the supply. What the output does when its own supply is out of range, and
    where its current ends above the rating, is not part of it.
    """

    __slots__ = ()
    terminals: ClassVar[tuple] = ("output", "ground", "supply")

    @property
    def V_lit(self):
        """Return the typical voltage across what conducts while on [V]."""
        return self.card.VOL

    def _output_spread(self):
        card = self.card
        return {
            "VOL": (card.VOL, card.VOL_max, card.VOL),
            "IOH": (card.IOH, card.IOH, card.IOH_max),
            "ICC": (card.ICC[0], card.ICC[0], card.ICC[1]),
        }

    def _place_output(self, net, out, T, values, path):
        path(out[0], out[1], self.card.VOL_IOL / values["VOL"], values["IOH"] / self.card.IOH_VO)
        if len(out) > 2:
            self._place_supply(net, (out[2], out[1]), values)


class GateDriverModel(SwitchingModel):
    """Push-pull, high while lit: conductances through the stated drops, up to the supply or down to the lower rail.

    Below the voltage at which a rising supply ends the lockout the output is held low. The peak currents are ratings
    and do not bound the output.
    """

    __slots__ = ()
    terminals: ClassVar[tuple] = ("output", "lower rail", "supply")

    @property
    def V_lit(self):
        """Return the typical voltage across what conducts while on [V]."""
        return self.card.drop_high

    def _output_spread(self):
        card = self.card
        found = {
            "drop_high": (card.drop_high, card.drop_high_max, card.drop_high),
            "VOL": (card.VOL, card.VOL_max, card.VOL),
            "ICC": (card.ICC[0], card.ICC[0], card.ICC[1]),
        }
        if card.UVLO_on is not None:
            low, typ, high = card.UVLO_on
            found["UVLO"] = (typ, high, low)
        return found

    def _place_output(self, net, out, T, values, path):
        output, lower, supply = out
        IF_on = self.threshold(values["threshold"], T)
        if "UVLO" in values:
            IF_on = np.where(values["VCC"] >= values["UVLO"], IF_on, _NEVER)
        path(supply, output, self.card.drop_high_IO / values["drop_high"], _BLOCKED, IF_on)
        path(output, lower, _BLOCKED, self.card.VOL_IO / values["VOL"], IF_on)
        self._place_supply(net, (supply, lower), values)


class MosfetRelayModel(SwitchingModel):
    """A resistance of either polarity while lit, one through the stated leakage while dark.

    In a dc connection a body diode conducts from the second terminal to the first, lit or not.
    """

    __slots__ = ()
    terminals: ClassVar[tuple] = ("first", "second")

    @property
    def V_lit(self):
        """Return the typical voltage across what conducts while on [V]."""
        return self.card.R_on * self.card.R_on_IL

    def _output_spread(self):
        card = self.card
        return {
            "R_on": (card.R_on, card.R_on_max, card.R_on),
            "leakage": (card.leakage, card.leakage, card.leakage_max),
        }

    def _place_output(self, net, out, T, values, path):
        path(out[0], out[1], 1.0 / values["R_on"], values["leakage"] / self.card.leakage_VL)
        if self.card.connection == "dc":
            IS = saturation_current(_BODY_IS, T, SILICON_BAND_GAP, 1.0)
            body = JunctionParams(IS, thermal_voltage(T))
            net.device(Junction("U1", out[1], out[0], body, np.full(len(T), _BLOCKING)))


class OptoTriacModel(SwitchingModel):
    """Either polarity: a switched conductance in series with a soft junction each way.

    Together they pass through the on-state voltage at its test current; three quarters of it, though no more than
    1.5 V, are the junction's, so that little current still meets most of a volt. Latching above the holding current
    and the zero-crossing inhibit are matters of time: the card states them, this path does not have them. It answers
    for a trigger current that lasts.
    """

    __slots__ = ()
    terminals: ClassVar[tuple] = ("first", "second")

    @property
    def V_lit(self):
        """Return the typical voltage across what conducts while on [V]."""
        return self.card.VTM

    def _output_spread(self):
        card = self.card
        return {
            "VTM": (card.VTM, card.VTM_max, card.VTM),
            "leakage": (card.leakage, card.leakage, card.leakage_max),
        }

    def _place_output(self, net, out, T, values, path):
        card, inner = self.card, "TJ"
        at_25 = thermal_voltage(np.full_like(T, ZERO_CELSIUS + 25.0)) * _SOFT
        V_soft = np.minimum(_SHARE * values["VTM"], _MOST_SOFT)
        IS = card.VTM_IT / np.expm1(V_soft / at_25)
        soft = JunctionParams(saturation_current(IS, T, SILICON_BAND_GAP, _SOFT), _SOFT * thermal_voltage(T))
        across = at_25 * np.log1p(values["leakage"] / IS)
        net.inside(out[0], inner)
        G_lit = card.VTM_IT / (values["VTM"] - V_soft)
        path(out[0], inner, G_lit, values["leakage"] / (card.leakage_VD - across))
        for anode, cathode in ((inner, out[1]), (out[1], inner)):
            net.device(Junction("U1", anode, cathode, soft, np.full(len(T), _BLOCKING)))


def fit_switching(card, kind):
    """Return the model of a card.

    Parameters
    ----------
    card : SwitchingCard
        The card.
    kind : type
        The family's model.

    Returns
    -------
    SwitchingModel
        The model.

    Raises
    ------
    CardError
        If the lines contradict one another.
    """
    curve = card.threshold_temperature
    return kind(card, fit_led(card), MonotoneCurve(*zip(*curve, strict=True)) if curve else None)
