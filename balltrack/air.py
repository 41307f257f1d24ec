"""The air over the field: its density from the weather, and how fast sound crosses it."""

from dataclasses import dataclass

import numpy as np

ZERO_CELSIUS_K = 273.15
STANDARD_PRESSURE_PA = 101325.0  # standard atmosphere, 10th CGPM, 1954

# Weather of which nothing is known: a warm day near the sea. It is seldom off by more than 10 K and 500 m of height,
# which make 3.4 % and 4.7 % of density: one standard deviation of 3 % (judgement, no source).
UNKNOWN_TEMPERATURE_C = 20.0
UNKNOWN_HUMIDITY = 0.5
UNKNOWN_DENSITY_SD_SHARE = 0.03


@dataclass(frozen=True, slots=True)
class Air:
    """What the air does to a flight."""

    density_kg_m3: float
    temperature_c: float
    wind_mps: tuple[float, float]  # toward x and y of the field frame


def standard_air() -> Air:
    """Air where nothing is known of the weather: 20 °C, sea level, half humid, no wind (1.199 kg/m³)."""
    density = air_density_kg_m3(UNKNOWN_TEMPERATURE_C, STANDARD_PRESSURE_PA, UNKNOWN_HUMIDITY)
    return Air(density, UNKNOWN_TEMPERATURE_C, (0.0, 0.0))


def air_density_kg_m3(temperature_c: float, pressure_pa: float, relative_humidity: float) -> float:
    """Density of moist air. [kg/m³]

    Parameters
    ----------
    temperature_c : float
        [°C] The formula is stated for 15 to 27; from 10 to 35 it keeps within 0.005 % of CoolProp's moist air.
    pressure_pa : float
        Pressure where the ball flies, not reduced to sea level. [Pa] Stated for 60 000 to 110 000.
    relative_humidity : float
        0 to 1.

    References
    ----------
    CIPM-2007: Picard, Davis, Gläser & Fujii, Metrologia 45 (2008) 149, with 0.04 % carbon dioxide.
    """
    t, p = temperature_c, pressure_pa
    kelvin = t + ZERO_CELSIUS_K
    saturation_pa = np.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t**2
    vapour = relative_humidity * enhancement * saturation_pa / p  # mole fraction
    first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2
    first += (5.707e-6 - 2.051e-8 * t) * vapour + (1.9898e-4 - 2.376e-6 * t) * vapour**2
    compressibility = 1.0 - p / kelvin * first + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * vapour**2)
    return float(3.483740e-3 * p / (compressibility * kelvin) * (1.0 - 0.3780 * vapour))


def pressure_at_altitude_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere at a height above the sea, as a map gives it. [Pa] Below 11 000 m.

    References
    ----------
    ISO 2533:1975, troposphere: 288.15 K at sea level, 6.5 K less each kilometre of geopotential height.
    """
    geopotential_m = 6356766.0 * altitude_m / (6356766.0 + altitude_m)
    return float(STANDARD_PRESSURE_PA * (1.0 - 0.0065 * geopotential_m / 288.15) ** (9.80665 / (287.05287 * 0.0065)))


def speed_of_sound_mps(temperature_c: float) -> float:
    """Speed of sound in dry air as an ideal gas, 331.3 m/s at 0 °C. [m/s] Full humidity adds about 0.3 %."""
    return float(331.3 * np.sqrt(1.0 + temperature_c / ZERO_CELSIUS_K))
