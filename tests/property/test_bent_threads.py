"""Bends that are solved for and shared: the same bits whatever the threads or what is done."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

import tailrace
from tailrace.parts.tube.bent import leja, march, responses, spread
from tailrace.parts.tube.bent.stretch import Stretch
from tailrace.signals import Band
from tailrace.studies.batch import Batch
from tailrace.studies.engine import as_products
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled
from tailrace.threads import thread_pool

TEXT = """
[method]
flow = "0.2 mL/min"
temperature = "40 degC"
eluent = { water = 0.3, acetonitrile = 0.7 }
[[solutes]]
name = "one"
retention_factor = 2.0
diffusivity = "1.1e-9 m^2/s"
[injection]
shape = "plug"
volume = "5 uL"
[[path]]
name = "tube"
part = "tube"
bore = "0.2 mm"
length = "400 mm"
bends = [{ length = "200 mm", radius = "60 mm" }, { length = "200 mm", radius = "90 mm" }]
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "50 mm"
particle_diameter = "3 um"
plates = 5000
[detector]
time_constant = "0.1 s"
[[uncertain]]
field = "tube.bore"
distribution = "uniform"
relative = 0.02
"""


class Kept:
    """Blocks that are done, held in memory."""

    def __init__(self, done=()):
        self.blocks = dict(done)

    def stored(self, batch):
        return [self.blocks.get(block) for block in range(len(batch.blocks))]

    def write(self, batch, block, metrics):
        self.blocks[block] = metrics


def forget():
    """As in a new process."""
    leja.SHARED.__init__()
    march.HELD.__init__(64)
    responses._series.cache_clear()
    spread._spread.cache_clear()


@pytest.fixture(scope="module")
def batch(tmp_path_factory):
    path = tmp_path_factory.mktemp("bends") / "two.toml"
    path.write_text(TEXT)
    scenario = tailrace.load(path)
    itineraries = tuple(sampled(scenario, 40, 1).itineraries(scenario))
    return replace(as_products(Batch("samples", itineraries)), lanes=8)


def test_any_number_of_threads_and_a_study_that_goes_on_give_the_same_bits(batch):
    assert len(batch.blocks) > 3
    whole, kept = [], []
    for threads in (1, 2, 3):
        forget()
        kept.append(Kept())
        with thread_pool(threads) as pool:
            whole.append(Runner(pool, kept[-1]).travelled(batch))
    forget()
    with ThreadPoolExecutor(3) as plain:
        whole.append(Runner(plain).travelled(batch))
    forget()
    some = Kept(list(kept[0].blocks.items())[1:3])  # those that were done when it was killed
    with thread_pool(2) as pool:
        whole.append(Runner(pool, some).travelled(batch))
    assert whole[0]["computed"].all()
    assert np.ptp(whole[0]["recorded/variance"]) > 0
    for other in whole[1:]:
        assert other.keys() == whole[0].keys()
        for name, values in whole[0].items():
            np.testing.assert_array_equal(other[name], values, err_msg=name)


def test_lanes_that_are_the_same_are_marched_once_as_if_alone(monkeypatch):
    """Two of three lanes are; so is what two blocks have in common."""
    times = 0.01 * np.arange(-30, 31)
    pulse = np.exp(-((times / 0.05) ** 2) / 2)
    inlet = Band(pulse[None], times[:1], np.array([0.01]))
    chains = [
        [Stretch(dean=0.0, strength=strength, length=0.1, residence=1.0)]
        for strength in (1e3, 1e3, 2e3)
    ]
    forget()
    alone = [march.march([one], inlet, 0.5, 1e-7) for one in chains[1:]]
    forget()
    asked, once = [], march._extrapolated
    monkeypatch.setattr(
        march, "_extrapolated", lambda *given: asked.append(given[0]) or once(*given)
    )
    three = Band.joined([inlet] * 3)
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda _: march.march(chains, three, 0.5, 1e-7), range(2)))
    assert sorted(one[0].strength for one in asked) == [1e3, 2e3]
    for each in found:
        for lane, own in ((0, alone[0]), (1, alone[0]), (2, alone[1])):
            count = own.values.shape[1]
            np.testing.assert_array_equal(each.values[lane, :count], own.values[0])
            assert not each.values[lane, count:].any()
            assert each.start[lane] == own.start[0]
