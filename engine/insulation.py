"""Distances along insulation and through air: what a voltage asks for, by pollution degree, material, category.

Figures for orientation; the product standard, local codes and a qualified person decide.
"""

from bisect import bisect_left

_STEPS = (10, 12.5, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 320, 400, 500, 630, 800, 1000, 1250)
_DEGREE_2 = {
    "I": (0.40, 0.42, 0.45, 0.48, 0.50, 0.53, 0.56, 0.60, 0.63, 0.67, 0.71, 0.75, 0.80, 1.00, 1.25, 1.60, 2.0, 2.5,
          3.2, 4.0, 5.0, 6.3),
    "II": (0.40, 0.42, 0.45, 0.48, 0.50, 0.53, 0.80, 0.85, 0.90, 0.95, 1.00, 1.05, 1.10, 1.40, 1.80, 2.20, 2.8, 3.6,
           4.5, 5.6, 7.1, 9.0),
    "III": (0.40, 0.42, 0.45, 0.48, 0.50, 0.53, 1.10, 1.20, 1.25, 1.30, 1.40, 1.50, 1.60, 2.00, 2.50, 3.20, 4.0, 5.0,
            6.3, 8.0, 10.0, 12.5),
}  # fmt: skip
_FEWER_STEPS = (50, 100, 160, 250, 320, 400, 500, 630, 800, 1000)
_DEGREE_1 = (0.18, 0.25, 0.32, 0.56, 0.75, 1.0, 1.3, 1.8, 2.4, 3.2)
_DEGREE_3 = {
    "I": (1.50, 1.80, 2.00, 3.20, 4.00, 5.0, 6.3, 8.0, 10.0, 12.5),
    "II": (1.70, 2.00, 2.20, 3.60, 4.50, 5.6, 7.1, 9.0, 11.0, 14.0),
    "III": (1.90, 2.20, 2.50, 4.00, 5.00, 6.3, 8.0, 10.0, 12.5, 16.0),
}
DEGREES = ("1", "2", "3")
"""Pollution degrees: none or dry; only non-conductive, wet at times; conductive, or made so by moisture."""

CATEGORIES = ("1", "2", "3", "4")
"""Overvoltage categories: protected circuits; what is plugged in; fixed installation; its origin."""

_SYSTEMS = (50, 100, 150, 300, 600, 1000)
_IMPULSES = {
    "1": (330, 500, 800, 1500, 2500, 4000),
    "2": (500, 800, 1500, 2500, 4000, 6000),
    "3": (800, 1500, 2500, 4000, 6000, 8000),
    "4": (1500, 2500, 4000, 6000, 8000, 12000),
}
_SURGES = (330, 500, 800, 1500, 2500, 4000, 6000, 8000, 12000)
_CLEARANCES = (0.2, 0.2, 0.2, 0.5, 1.5, 3.0, 5.5, 8.0, 14.0)
_LEAST_CLEARANCE = {"1": 0.2, "2": 0.2, "3": 0.8}

GRADES = {"basic": 1.0, "reinforced": 2.0}
"""Grade of insulation to how many times the distance of basic insulation it takes; reinforced from memory."""


def required_creepage(volts, degree, group):
    """Return the creepage distance that basic insulation takes.

    Parameters
    ----------
    volts : float
        Working voltage, rms or direct [V].
    degree : str
        Pollution degree, one of `DEGREES`.
    group : str
        Material group: "I", "II", "IIIa" or "IIIb".

    Returns
    -------
    float or None
        Distance of the next step that is not below the voltage; None beyond the last step [m].

    References
    ----------
    IEC 60664-1, Table F.4 (equipment other than printed boards). Steps are not interpolated, which errs on the safe
    side.
    """
    family = group.rstrip("ab")
    if degree == "2":
        steps, distances = _STEPS, _DEGREE_2[family]
    else:
        steps, distances = _FEWER_STEPS, _DEGREE_1 if degree == "1" else _DEGREE_3[family]
    step = bisect_left(steps, volts)
    return distances[step] * 1e-3 if step < len(steps) else None


def rated_impulse(volts, category):
    """Return the impulse voltage that equipment at a line must withstand.

    Parameters
    ----------
    volts : float
        Voltage of the line against earth, rms or direct [V].
    category : str
        Overvoltage category, one of `CATEGORIES`.

    Returns
    -------
    float or None
        Impulse of the next step that is not below the voltage; None beyond the last step [V].

    References
    ----------
    IEC 60664-1, Table F.1; from memory.
    """
    step = bisect_left(_SYSTEMS, volts)
    return float(_IMPULSES[category][step]) if step < len(_SYSTEMS) else None


def required_clearance(impulse, degree="2", grade="basic"):
    """Return the distance through air that an impulse voltage takes, in the least favourable field.

    Parameters
    ----------
    impulse : float
        Rated impulse voltage [V].
    degree : str
        Pollution degree, one of `DEGREES`; at the first the distances of the second are kept.
    grade : str
        Grade of insulation, a key of `GRADES`; reinforced insulation takes the distance of the next impulse.

    Returns
    -------
    float or None
        Distance up to 2000 m above the sea, of the next step that is not below; None beyond the last step [m].

    References
    ----------
    IEC 60664-1, Table F.2, case A (inhomogeneous field); from memory.
    """
    step = bisect_left(_SURGES, impulse) + (grade == "reinforced")
    return max(_CLEARANCES[step], _LEAST_CLEARANCE[degree]) * 1e-3 if step < len(_SURGES) else None
