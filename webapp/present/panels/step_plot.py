"""What a step between the grounds does to the output, as drawings: the ramp, the limit, how long it is passed."""

from engine import CommonMode, Disturbance
from webapp.present.figures import plain
from webapp.present.panels.timing_plot import EdgePlot, Told, limit_text, wave_plot


def step_plot(found: CommonMode, one: Disturbance, load) -> EdgePlot:
    """Return the drawing of one state by one way of the grounds."""
    title = f"LED {'lit' if one.lit else 'dark'}, input ground {'rising' if one.rising else 'falling'}"
    event, text = _event(one)
    current = plain(found.current, "A")
    told = Told(
        key=f"{'lit' if one.lit else 'dark'}-{'rising' if one.rising else 'falling'}",
        title=title,
        description=f"{title}: {load.observed} over time, nominal with the band of all corners; {text}.",
        x_name="time from the beginning of the step",
        limit_text=limit_text(one.wave, load),
        event=event,
        event_text=text,
        stretch=min(found.lasting, float(one.wave.t[-1])),
        stretch_text=f"{current} for {plain(found.lasting, 's')}",
        lost=one.room.low < 0.0,
    )
    return wave_plot(one.wave, load.observed, "A" if load.observed == "IL" else "V", told)


def _event(one: Disturbance):
    """Return when the nominal stage is surely read again, and what is told there."""
    level = one.level
    if one.room.low >= 0.0:
        return None, f"surely {level} all the time"
    if one.unsure.value is None:
        return None, f"not surely {level}"
    if not one.unsure.value:
        return None, f"nominal surely {level}; at worst not"
    wave = one.wave
    short = (wave.nominal < wave.limit) == wave.rises
    last = short.nonzero()[0][-1] + 1 if short.any() else None
    back = float(wave.t[last]) if last is not None and last < len(wave.t) else None
    return back, f"not surely {level} for {plain(one.unsure.value, 's')}"
