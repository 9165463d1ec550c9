"""Physical constants and reference conditions.

Lowest layer of the engine: imports nothing of ours. Every constant carries its unit and source.
"""

BOLTZMANN = 1.380649e-23  # [J/K], exact by definition of the SI (2019)
ELEMENTARY_CHARGE = 1.602176634e-19  # [C], exact by definition of the SI (2019)
BOLTZMANN_EV = BOLTZMANN / ELEMENTARY_CHARGE  # [eV/K], the same constant in electronvolts
ZERO_CELSIUS = 273.15  # [K], definition of the degree Celsius
REFERENCE_TEMPERATURE = 298.15  # [K], 25 degC, the temperature at which data sheets state typical values
SILICON_BAND_GAP = 1.12  # [eV] near 300 K, common textbook value


def thermal_voltage(T):
    """Return the thermal voltage kT/e.

    Parameters
    ----------
    T : float or ndarray
        Absolute temperature [K].

    Returns
    -------
    float or ndarray
        Thermal voltage, the shape of `T` [V].

    References
    ----------
    Definition, with the exact SI values of k and e.
    """
    return BOLTZMANN * T / ELEMENTARY_CHARGE
