"""What limits how fast a stage answers where the line sets the pace, in a sentence."""

from engine.cycle import HALF_WAVE

NONE = "none"


def never_told(scenario, times):
    """Return why on is never told from off at worst.

    Parameters
    ----------
    scenario : Scenario
        The stage, on alternating voltage.
    times : dict of str to Span
        "lit", "steady", "dark" and "gap" [s].

    Returns
    -------
    str
        A sentence; empty where it is told.
    """
    if times["lit"].high is None:
        who = "Even the nominal stage" if times["lit"].value is None else "At worst the stage"
        return f"{who} is never surely read as lit, so on cannot be told from off."
    if times["dark"].high is None:
        return (
            "With the line absent the residual current keeps lighting the LED, so that the output is not surely read as"
            " dark at worst."
        )
    return ""


def paced_by(scenario, times, alone):
    """Return what takes most of the time at worst.

    Parameters
    ----------
    scenario : Scenario
        The stage, on alternating voltage.
    times : dict of str to Span
        "lit", "steady", "dark" and "gap" [s].
    alone : tuple of (float, float)
        What switching the nominal stage on and off would take without a capacitor at the output [s].

    Returns
    -------
    str
        A sentence.
    """
    on = times["lit"].high if times["steady"].high is None else times["steady"].high
    dark, gap = times["dark"].high, times["gap"].high
    most = max(on, dark, gap)
    if gap > 0.0 and gap >= 0.5 * most and dark <= gap:
        where = "in the dark half cycle" if scenario.input.form in HALF_WAVE else "around every zero crossing"
        return f"Waiting for the zero crossing limits it: the output is unlit {where}, as long as the line is there."
    part = _slow_part(scenario, times, alone, on >= dark)
    if not part:
        return "Waiting for the zero crossing limits it: until the line has risen far enough the LED stays dark."
    if part == _AT_OUTPUT:
        lowered = scenario.output.level_when_lit == scenario.output.words[0]
        verb = "Discharge" if lowered == (on >= dark) else "Charging"
        way = "through the coupler" if on >= dark else "through RL once the line has gone"
        return f"{verb} of {part} limits it, {way}."
    if on >= dark:
        return f"Charging of {part} limits it: the output is lit once it has come far enough."
    return f"Discharge of {part} limits it: it goes on lighting the output after the line has gone."


def _slow_part(scenario, times, alone, on):
    """Return the capacitor that takes the time of the slower edge; empty where there is none."""
    side, at_output = scenario.input, scenario.input.C_out != NONE and scenario.output.observed == "VOUT"
    if side.CS == NONE:
        return (
            _AT_OUTPUT if at_output else "the capacitor that drops the line voltage" if side.capacitive and on else ""
        )
    told = times["steady"] if on and times["steady"].value is not None else times["lit" if on else "dark"]
    if at_output and told.value is not None and alone[0 if on else 1] < 0.5 * told.value:
        return _AT_OUTPUT
    return "the smoothing capacitor CS"


_AT_OUTPUT = "the capacitor CO at the output"


def triac_paced_by(scenario, times, waits):
    """Return what takes most of the time of a load that a triac switches.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    times : dict of str to Span
        "lit" and "dark" [s].
    waits : bool
        Whether the coupler fires near the zero crossing only.

    Returns
    -------
    str
        A sentence or two.
    """
    if times["lit"].high is None:
        who = "Even the nominal stage" if times["lit"].value is None else "At worst the stage"
        return f"{who} never switches its load on; see the findings."
    half = 0.5 / scenario.output.f_line
    own = times["lit"].high > 3.0 * half or times["dark"].high > 3.0 * half
    if own:
        said = "The smoothing capacitor at the input limits it; the zero crossings of the line come on top."
    elif waits:
        said = (
            "Waiting for the zero crossing limits it, twice: the coupler fires near the next one only, and the triac"
            " goes dark at the next zero of its current."
        )
    else:
        said = (
            "Waiting for the zero crossing limits it: the coupler fires at once, but the triac goes dark only at the"
            " next zero of its current."
        )
    if getattr(scenario.input, "C_filter", NONE) != NONE:
        said += " The filter capacitor across the LED adds its own time, which is not counted here."
    return said
