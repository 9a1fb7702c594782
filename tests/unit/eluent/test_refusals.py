"""What the eluent room refuses, and says so in one sentence."""

import numpy as np
import pytest

from tailrace.eluent.diffusion import wilke_chang
from tailrace.eluent.liquids import LIQUIDS, mole_fractions
from tailrace.eluent.stream import Stream
from tailrace.eluent.viscosity import HIGHEST_TEMPERATURE, LOWEST_TEMPERATURE, viscosity
from tailrace.errors import PartError


@pytest.mark.parametrize("temperature", [LOWEST_TEMPERATURE - 0.1, HIGHEST_TEMPERATURE + 0.1])
def test_outside_the_temperatures(temperature):
    with pytest.raises(PartError, match=r"no viscosity at .* degC: .*10 to 90 degC.*give visc"):
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
