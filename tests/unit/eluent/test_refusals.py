"""What the eluent room refuses, and says so in one sentence."""

import numpy as np
import pytest

from tailrace.eluent.density import density
from tailrace.eluent.diffusion import wilke_chang
from tailrace.eluent.liquids import (
    HIGHEST_TEMPERATURE,
    LIQUIDS,
    LOWEST_TEMPERATURE,
    mole_fractions,
)
from tailrace.eluent.stream import Stream
from tailrace.eluent.viscosity import pressure_factor, viscosity, viscosity_uncertainty
from tailrace.errors import PartError


@pytest.mark.parametrize("temperature", [LOWEST_TEMPERATURE - 0.1, HIGHEST_TEMPERATURE + 0.1])
def test_outside_the_temperatures(temperature):
    with pytest.raises(PartError, match=r"no viscosity at .* degC: .*5 to 90 degC.*give visc"):
        viscosity({"water": 1.0}, temperature)


@pytest.mark.parametrize(
    "composition",
    [
        {"water": 0.4, "methanol": 0.3, "acetonitrile": 0.3},
        {"methanol": 0.5, "acetonitrile": 0.5},
        {"water": 0.5, "ethanol": 0.5},
    ],
    ids=str,
)
def test_mixtures_without_a_correlation(composition):
    with pytest.raises(PartError, match=r"no viscosity correlation for a mixture of .*give visc"):
        viscosity(composition, 298.15)
    with pytest.raises(PartError, match=r"no density correlation for a mixture of"):
        density(composition, 298.15)


def test_pressure_of_known_liquids_and_to_its_limit():
    with pytest.raises(PartError, match="no viscosity correlation"):
        pressure_factor({"water": 0.5, "ethanol": 0.5}, 298.15, 1e7)
    with pytest.raises(PartError, match=r"no viscosity at 1200 bar: .* to 1000 bar"):
        pressure_factor({"water": 1.0}, 298.15, 1.2e8)


def test_uncertainty_grows_away_from_25_degc():
    mixed = {"water": 0.4, "acetonitrile": 0.6}
    found = viscosity_uncertainty(mixed, np.array([298.15, 313.15, 333.15, 363.15]))
    assert np.all(np.diff(found) > 0)
    # between those at the shares 0.55 and 0.65 of the table of uncertainties
    assert (found[0], found[-1]) == pytest.approx((0.0775, 0.1125), rel=1e-9)
    assert viscosity_uncertainty({"water": 1.0}, 363.15) == 0.01
    assert viscosity_uncertainty({"methanol": 1.0}, 363.15) == 0.03


def test_temperatures_side_by_side():
    temperatures = np.array([288.15, 310.0, 350.0])
    for of in (viscosity, density):
        together = of({"water": 0.3, "methanol": 0.7}, temperatures)
        alone = [of({"water": 0.3, "methanol": 0.7}, one) for one in temperatures]
        assert together.tolist() == pytest.approx(alone, rel=1e-14)


def test_no_more_than_water_is_water():
    assert viscosity({"water": 1.0, "methanol": 0.0}, 300.0) == viscosity({"water": 1.0}, 300.0)


def test_mixtures_join_on_to_water():
    # of a correlation for mixtures: within a few percent of water where there is none of the other
    for name in ("methanol", "acetonitrile"):
        nearly = viscosity({"water": 1 - 1e-6, name: 1e-6}, 298.15)
        assert nearly == pytest.approx(viscosity({"water": 1.0}, 298.15), rel=0.02)


@pytest.mark.parametrize("name", ["methanol", "acetonitrile"])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 1.0])
def test_warmer_is_thinner(name, share):
    temperatures = np.arange(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, 5.0)
    found = [viscosity({"water": 1 - share, name: share}, one) for one in temperatures]
    assert np.all(np.diff(found) < 0)


def test_mole_fractions_add_up_and_refuse_strangers():
    shares = mole_fractions({"water": 0.5, "acetonitrile": 0.5})
    assert sum(shares.values()) == pytest.approx(1.0)
    assert shares["water"] > shares["acetonitrile"]
    with pytest.raises(PartError, match=r"contains ethanol, known liquids are water.*give visc"):
        mole_fractions({"ethanol": 1.0})
    with pytest.raises(PartError, match="ethanol"):
        wilke_chang(1e-4, {"ethanol": 1.0}, 298.15, 1e-3)


def test_constants_of_the_liquids():
    # molar masses from the standard atomic weights of H, C, N and O
    hydrogen, carbon, nitrogen, oxygen = 1.008, 12.011, 14.007, 15.999
    masses = {
        "water": 2 * hydrogen + oxygen,
        "methanol": carbon + 4 * hydrogen + oxygen,
        "acetonitrile": 2 * carbon + 3 * hydrogen + nitrogen,
    }
    for name, liquid in LIQUIDS.items():
        assert liquid.molar_mass * 1e3 == pytest.approx(masses[name], rel=1e-4)


def test_a_stream_over_lanes():
    passing = Stream(flow_rate=1e-8, diffusivity=np.array([1e-9, 2e-9]))
    assert passing.lanes == 2
    spread = passing.over(2)
    assert spread.flow_rate.tolist() == [1e-8, 1e-8]
    assert spread.diffusivity.tolist() == [1e-9, 2e-9]
    assert np.isnan(spread.viscosity).all()
    assert Stream(flow_rate=1e-8, diffusivity=1e-9).lanes == 1
