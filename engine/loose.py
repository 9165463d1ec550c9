"""A coupler out of its circuit on the bench: what a meter shows on its LED, and on its output with the LED driven."""

from dataclasses import dataclass

import numpy as np

from engine.coupler.bench import Wiring, measure
from engine.meter import METERS
from engine.quantity import AMPERE, VOLT, as_typed

TEST_CURRENT = 1e-3
"""What a meter feeds on its diode range [A]; common practice, no source."""

_REACH = 3.0  # [V], up to which the diode range reads; common practice, no source
_LOOK = 0.1  # [V], at which the resistance of an output is read; a value of our own
_OPEN = 40e6  # [ohm], up to which a meter reads a resistance; common practice, no source
_LITTLE = 1e-6  # [A], load of an output whose voltage is read
_SURE = 1.5  # [-], LED current over the largest threshold
_AMPLE = 3.0  # [-], collector current that the weakest specimen can give, over the test current
_SHARE = 0.01  # [-], error of the resistance range; common practice, no source


@dataclass(frozen=True, slots=True)
class Check:
    """One reading on a coupler out of its circuit.

    Attributes
    ----------
    id : str
        Its name.
    words : str
        What is checked, for people.
    how : str
        Range, leads and what is fed, for people.
    unit : str
        "V" or "ohm".
    expected : float or None
        What the usual specimen reads; None where the meter shows that it is beyond its range [unit].
    low : float or None
        Least that a good one may read [unit].
    high : float or None
        Most that a good one may read; None where it may be beyond the range [unit].
    """

    id: str
    words: str
    how: str
    unit: str
    expected: float | None
    low: float | None
    high: float | None


def loose_checks(scenario):
    """Return what a meter reads on the coupler of a stage, out of its circuit.

    Parameters
    ----------
    scenario : Scenario
        The stage; its coupler, bin and range of temperature count.

    Returns
    -------
    tuple of Check
        LED both ways on the diode range, then the output with the LED driven and dark.

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    The diode range of a digital meter feeds 1 mA and reads up to 3 V; what takes more, or lets less through, reads as
    open. A triac stays on below its holding current only while its LED is lit, which is how it is checked here.

    References
    ----------
    Common practice, no source.
    """
    bench = _Bench(scenario)
    return (*bench.led(), *bench.output())


class _Bench:
    """A coupler with both ends of what varies, at every end of the temperature."""

    def __init__(self, scenario):
        self.scenario = scenario
        self.model, self.card = scenario.coupling.model, scenario.coupling.model.card
        conditions = scenario.conditions
        kind = "digital" if conditions.meter == "pointer" else conditions.meter
        self.meter = METERS[kind]
        self.TA = np.repeat(sorted({*conditions.TA_ends}), 3)
        self.TA = np.concatenate([[conditions.TA], self.TA])
        self.VCC = getattr(self.card, "ICC", (0.0, 0.0, 5.0))[2]

    def _members(self):
        """Return what varies from specimen to specimen, the usual one first."""
        rest = len(self.TA) // 3
        found = {
            name: np.array([nominal, *((nominal, weakest, strongest) * rest)])
            for name, (nominal, weakest, strongest) in self.scenario.coupling.spread().items()
        }
        return found

    # ------------------------------------------------------------ the LED

    def led(self):
        """Yield the checks of the LED."""
        low, high = self.model.VF_shifts()
        shift = np.concatenate([[0.0], np.tile([0.0, low, high], len(self.TA) // 3)])
        VF = self._measured(TEST_CURRENT, Wiring(hold=1.0, VCC=self.VCC)).VF + shift  # the same at every current
        inside = getattr(self.scenario.input, "R_inside", "none")
        within = 0.0 if inside == "none" else inside * TEST_CURRENT
        fed = f"Diode range ({as_typed(TEST_CURRENT, AMPERE)})"
        yield self._volts("led-forward", "LED forwards", f"{fed}, red on the anode, black on the cathode.", VF + within)
        how = f"{fed}, red on the cathode, black on the anode."
        if getattr(self.card, "input", "single") == "pair":
            turned = shift - self._measured(TEST_CURRENT, Wiring(hold=1.0, VCC=self.VCC, turned=True)).VF
            yield self._volts("led-backward", "LED backwards, its partner", how, turned + within)
        else:
            yield Check("led-backward", "LED backwards", how, "V", None, None, None)

    def _measured(self, IF, wiring):
        """Return what the coupler reads on a test circuit, every member."""
        return measure(self.model, np.full(len(self.TA), IF), wiring, TA=self.TA, **self._members())

    def _volts(self, name, words, how, volts):
        """Return a check on the diode range from the readings of all members."""
        over = volts > _REACH
        if over.all():
            return Check(name, words, how, "V", None, None, None)
        shown = volts[~over]
        error = self.meter.error(shown)
        low, high = float((shown - error).min()), None if over.any() else float((shown + error).max())
        return Check(name, words, how, "V", None if over[0] else float(volts[0]), low, high)

    # ------------------------------------------------------------ the output

    def output(self):
        """Yield the checks of the output, by family."""
        IF, family = self._drive(), self.card.family
        lit, dark = f"LED driven with {as_typed(IF, AMPERE)}", "LED without current"
        supply = f", supply {as_typed(self.VCC, VOLT)}" if "supply" in self.model.terminals else ""
        if family == "mosfet-relay":
            yield self._ohms("output-lit", "Output, lit", f"Resistance range across the output, {lit}.", IF)
            yield self._ohms("output-dark", "Output, dark", f"Resistance range across the output, {dark}.", 0.0)
        elif family == "gate-driver":
            for name, state, fed, load in (("lit", lit, IF, -_LITTLE), ("dark", dark, 0.0, _LITTLE)):
                VO = self._measured(fed, Wiring(feed=load, VCC=self.VCC)).VO
                how = f"Voltage range, output against its lower rail, {state}{supply}."
                yield self._reading(f"output-{name}", f"Output, {name}", how, VO)
        else:
            red = "collector, black on the emitter" if family.startswith("photo") else "output, black on its return"
            red = "first main terminal, black on the second" if family == "opto-triac" else red
            for name, state, fed in (("lit", lit, IF), ("dark", dark, 0.0)):
                how = f"Diode range ({as_typed(TEST_CURRENT, AMPERE)}), red on the {red}, {state}{supply}."
                yield self._volts(f"output-{name}", f"Output, {name}", how, self._fed(fed))

    def _drive(self):
        """Return the LED current that the output is checked with: the card's, or more where the weakest needs it."""
        card, most = self.card, float(self.card.IF_rating.at(self.TA.max()))
        if self.scenario.coupling.has_ratio:
            return min(max(card.CTR_IF, _AMPLE * TEST_CURRENT / self.scenario.coupling.ratios()[1]), most)
        stated = max(getattr(card, line, 0.0) for line in ("R_on_IF", "VOL_IF"))
        return min(max(stated, _SURE * card.IF_on), most)

    def _fed(self, IF):
        """Return the voltage of the output with the test current fed; infinite where it takes less at the reach."""
        at_reach = self._measured(IF, Wiring(hold=_REACH, VCC=self.VCC)).IO
        found = np.full(len(self.TA), np.inf)
        takes = at_reach >= TEST_CURRENT
        if takes.any():
            values = {name: array[takes] for name, array in self._members().items()}
            wiring = Wiring(feed=TEST_CURRENT, VCC=self.VCC)
            found[takes] = measure(self.model, np.full(takes.sum(), IF), wiring, TA=self.TA[takes], **values).VO
        return found

    def _ohms(self, name, words, how, IF):
        """Return a check on the resistance range."""
        through = self._measured(IF, Wiring(hold=_LOOK)).IO
        R = _LOOK / np.maximum(through, _LOOK / (10.0 * _OPEN))
        if (R > _OPEN).all():
            return Check(name, words, how, "ohm", None, None, None)
        high = float(R.max()) * (1.0 + _SHARE)
        expected = None if R[0] > _OPEN else float(R[0])
        return Check(name, words, how, "ohm", expected, float(R.min()) * (1.0 - _SHARE), high if high < _OPEN else None)

    def _reading(self, name, words, how, volts):
        """Return a check on the voltage range."""
        error = self.meter.error(volts)
        return Check(name, words, how, "V", float(volts[0]), float((volts - error).min()), float((volts + error).max()))
