"""How one number or word differs from another: by how much, which way, with a sign and in words."""

from dataclasses import dataclass

from engine import reading

SIGNS = {"same": "=", "up": "▲", "down": "▼", "other": "≠"}
"""Kind of change to its sign."""

_MOST = 10.0  # times as large, from where a percentage is hard to read


@dataclass(frozen=True, slots=True)
class Change:
    """What something is before and after.

    Attributes
    ----------
    before : str
        Text before.
    after : str
        Text after.
    before_range : str
        Worst-case range before; empty where nothing varies.
    after_range : str
        Worst-case range after.
    kind : str
        One of `SIGNS`.
    told : str
        The change in words.
    """

    before: str
    after: str
    before_range: str
    after_range: str
    kind: str
    told: str

    @property
    def sign(self):
        """Return the sign of the change."""
        return SIGNS[self.kind]

    @property
    def differs(self):
        """Return whether anything differs."""
        return self.kind != "same"


def change_of_text(before, after):
    """Return how one text differs from another; an empty one stands for what a stage does not have."""
    if before == after:
        return Change(before, after, "", "", "same", "same")
    told = "only after" if not before else "only before" if not after else "other"
    return Change(before or "–", after or "–", "", "", "other", told)


def change_of_number(before, after, unit, texts, ranges=("", "")):
    """Return how one number differs from another.

    Parameters
    ----------
    before : float
        Value before [unit].
    after : float
        Value after [unit].
    unit : Unit
        Their unit.
    texts : tuple of (str, str)
        Both as printed.
    ranges : tuple of (str, str)
        Both worst-case ranges as printed.

    Returns
    -------
    Change
        The change; none where both read the same. Between numbers of one sign "up" and "down" are about their size.
    """
    if texts[0] == texts[1]:
        kind, told = ("same", "same") if ranges[0] == ranges[1] else ("other", "only its range")
        return Change(*texts, *ranges, kind, told)
    if before * after <= 0 or abs(before) < unit.floor:
        kind = "up" if after > before else "down"
        return Change(*texts, *ranges, kind, f"{kind} by {' '.join(reading(abs(after - before), unit))}")
    times = after / before
    kind = "up" if times > 1 else "down"
    return Change(*texts, *ranges, kind, _told(kind, times))


def _told(kind, times):
    """Return by how much something has changed, in per cent, or how many times as large it is."""
    if times > _MOST:
        return f"{times:.3g} times as large" if times < 1000 else f"{times:.0f} times as large"
    percent = abs(times - 1) * 100
    if percent < 10:
        return f"{kind} {percent:.2g} %"
    return f"{kind} {min(percent, 99.9) if times < 1 else percent:.3g} %"
