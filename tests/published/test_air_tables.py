"""Air density, pressure and the speed of sound against tables and other programs."""

import pytest

from balltrack.air import STANDARD_PRESSURE_PA, air_density_kg_m3, pressure_at_altitude_pa, speed_of_sound_mps


@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa", "humidity", "coolprop", "psychrolib"),
    # Sources: CoolProp 8.0 `HAPropsSI` (real gas, ASHRAE RP-1485) and PsychroLib 2.5 `GetMoistAirDensity` (ideal gas),
    # both run by us with these inputs. kg/m³.
    [
        (20, 101325, 0.5, 1.19936, 1.19890),
        (20, 101325, 0.0, 1.20460, 1.20415),
        (25, 101325, 0.5, 1.17736, 1.17696),
        (35, 101325, 0.8, 1.12665, 1.12629),
        (10, 100000, 0.6, 1.22754, 1.22695),
    ],
)
def test_density_agrees_with_two_other_programs(
    temperature_c: float, pressure_pa: float, humidity: float, coolprop: float, psychrolib: float
) -> None:
    density = air_density_kg_m3(temperature_c, pressure_pa, humidity)
    assert density == pytest.approx(coolprop, rel=1e-4)  # real against real gas
    assert density == pytest.approx(psychrolib, rel=6e-4)  # the ideal gas law is off by so much


@pytest.mark.parametrize(
    ("geopotential_m", "pressure_pa", "density_kg_m3"),
    # Source: ISO 2533:1975 / US Standard Atmosphere 1976 tables by geopotential height.
    [(0, 101325.0, 1.22500), (1000, 89874.6, 1.11164), (2000, 79495.2, 1.00649), (3000, 70108.5, 0.90912)],
)
def test_pressure_is_that_of_the_standard_atmosphere(
    geopotential_m: float, pressure_pa: float, density_kg_m3: float
) -> None:
    geometric_m = 6356766.0 * geopotential_m / (6356766.0 - geopotential_m)  # same standard, earth's radius
    assert pressure_at_altitude_pa(geometric_m) == pytest.approx(pressure_pa, abs=0.1)  # last printed digit
    dry = air_density_kg_m3(15.0 - 0.0065 * geopotential_m, pressure_pa, 0.0)
    assert dry == pytest.approx(density_kg_m3, rel=6e-4)  # the table is an ideal gas


def test_pressure_by_height_above_the_sea_is_that_of_other_programs() -> None:
    # Sources: PyPI `ambiance` and `fluids`, 1000 m geometric.
    assert pressure_at_altitude_pa(1000.0) == pytest.approx(89876.3, abs=0.1)
    assert pressure_at_altitude_pa(0.0) == STANDARD_PRESSURE_PA


@pytest.mark.parametrize(
    ("temperature_c", "speed_mps"),
    # Source: the textbook's c = 331.3 sqrt(1 + T/273.15); 340.294 m/s at 15 °C is the ISA's (ISO 2533).
    [(0, 331.300), (15, 340.275), (20, 343.215), (25, 346.129), (30, 349.019)],
)
def test_speed_of_sound_follows_the_textbook(temperature_c: float, speed_mps: float) -> None:
    assert speed_of_sound_mps(temperature_c) == pytest.approx(speed_mps, abs=1e-3)
    if temperature_c == 15:
        assert speed_of_sound_mps(15) == pytest.approx(340.294, abs=0.03)  # its gas constant differs in the 4th digit
