"""The air: ways that density and pressure must go. Published values stand in published/test_air_tables.py."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from balltrack.air import (
    STANDARD_PRESSURE_PA,
    air_density_kg_m3,
    pressure_at_altitude_pa,
    speed_of_sound_mps,
    standard_air,
)


@given(st.floats(-5, 40), st.floats(65_000, 105_000), st.floats(0, 0.9))
def test_warmer_damper_and_thinner_air_is_lighter(t: float, p: float, humidity: float) -> None:
    here = air_density_kg_m3(t, p, humidity)
    assert air_density_kg_m3(t + 1, p, humidity) < here
    assert air_density_kg_m3(t, p - 500, humidity) < here
    assert air_density_kg_m3(t, p, humidity + 0.1) < here


@given(st.floats(-400, 4000))
def test_pressure_falls_with_height(altitude_m: float) -> None:
    # Hydrostatic law dp/dz = -rho g, with the ISA's own temperature; 0.1 %: gravity weakens with height.
    slope = (pressure_at_altitude_pa(altitude_m + 1) - pressure_at_altitude_pa(altitude_m - 1)) / 2
    density = pressure_at_altitude_pa(altitude_m) / (287.05287 * (288.15 - 0.0065 * altitude_m))
    assert slope == pytest.approx(-density * 9.80665, rel=2e-3)


def test_unknown_weather_is_a_warm_day_by_the_sea_without_wind() -> None:
    air = standard_air()
    assert air.density_kg_m3 == pytest.approx(air_density_kg_m3(20.0, STANDARD_PRESSURE_PA, 0.5))
    assert (air.temperature_c, air.wind_mps) == (20.0, (0.0, 0.0))


def test_sound_is_faster_in_warm_air() -> None:
    assert speed_of_sound_mps(30.0) - speed_of_sound_mps(20.0) == pytest.approx(5.8, abs=0.1)  # about 0.6 m/s a degree
