"""The finding on service: after how many years the weakest part has lost what it can spare; in closed form."""

import numpy as np

from engine.ageing import PLANS, Plan, years_until
from engine.constants import ZERO_CELSIUS
from engine.findings.finding import Finding, Rule, listed, printed
from engine.findings.fitting import ratio
from engine.quantity import RATIO

LONG = 20.0  # [a], service from which nothing is noted; common practice, no source
_MONTHS = 12  # in a year


def left_after_a_year(conditions, IF):
    """Return the share of its light that an LED has left after a year, by the law that the conditions name.

    Parameters
    ----------
    conditions : Conditions
        What surrounds the stage.
    IF : float
        LED current of the nominal stage, which a stress test asks about [A].

    Returns
    -------
    float
        Share, 0 to 1; every further year leaves the same share of what there is [-].
    """
    hottest = conditions.TA_ends[1] + ZERO_CELSIUS
    return conditions.light_left(1.0, max(IF, 0.0), hottest)


def law_in_words(conditions):
    """Return the law of ageing as the clause of a sentence.

    Parameters
    ----------
    conditions : Conditions
        What surrounds the stage.

    Returns
    -------
    str
        To stand behind "if".
    """
    if conditions.ageing == "stress":
        return "the light fades as the stress test tells"
    plan = PLANS.get(conditions.ageing, Plan(conditions.loss, conditions.loss_years))
    return f"{printed(plan.loss, RATIO).replace('.0 ', ' ')} of the light is lost in {plan.years:g} years"


def spoken(years):
    """Return a time as it is said.

    Parameters
    ----------
    years : float
        Time, not negative [a].

    Returns
    -------
    str
        In years, or in months where it is less than one year.
    """
    months = round(years * _MONTHS)
    if years >= 1.0:
        return f"{years:.1f} years"
    return f"{months} months" if months > 1 else "a month"


def share_needed(point):
    """Return the share of its light that the weakest part needs.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage, its parts new.

    Returns
    -------
    float or None
        What it needs over what it has, infinite where it has none; None where nothing is asked of it [-].

    Notes
    -----
    At a given LED current the photocurrent goes with the light, and a threshold with its inverse; a base resistor
    takes its current first, which is reckoned as it is now. It falls a little with the light, so that with a base
    resistor the share is slightly too large, on the safe side.

    References
    ----------
    Derived here.
    """
    closed = point.states["closed"]
    overdrive = closed.quantities.get("overdrive")
    if overdrive is None:
        return None
    if "RBE" not in closed.currents:
        return ratio(1.0, overdrive.low)
    taken = closed.currents["RBE"].members * point.scenario.coupling.model.gain
    available, needed = (closed.quantities[name].members for name in ("IC_available", "IC_needed"))
    return float(np.max((needed + taken) / np.maximum(available + taken, np.finfo(float).tiny)))


def _service_life(point):
    """Note after how many years the weakest part no longer does, where new parts are looked at and that is soon."""
    conditions, needed = point.scenario.conditions, share_needed(point)
    if conditions.years or needed is None or needed > 1.0:
        return None
    closed = point.states["closed"].quantities
    years = years_until(needed, 1.0 - left_after_a_year(conditions, closed["IF"].value), 1.0)
    if not years < LONG:
        return None
    fails = "stops saturating" if point.scenario.coupling.has_ratio else "is no longer surely on"
    reason = f"At worst it {fails} after {spoken(years)} if {law_in_words(conditions)}."
    worst = int(closed["overdrive"].members.argmin())
    condition = "CTR at its lowest, R1 high, RL low" if point.scenario.coupling.has_ratio else "threshold and R1 high"
    margin = years / LONG - 1.0
    return Finding("service-life", "note", years, LONG, margin, "count", condition, reason, worst=worst)


RULES = listed(
    Rule(
        code="service-life",
        title="Service life",
        asks="After how many years has the weakest part lost the light that it can spare?",
        why="An LED fades slowly: a stage that just works when it is new stops working in the field.",
        limit_from=f"{LONG:g} years, common practice, no source; the pace of ageing as chosen.",
        worst_where="CTR at its lowest or threshold high, R1 high, RL low; at the end of the service.",
        severities=("note",),
        mends="Nothing by itself: ask for the years of service, and saturation or turn-on names what mends it.",
        measure=_service_life,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {}
"""Nothing for rules of others."""
