"""A sample in a solvent of other strength than the eluent: focusing, and its opposite."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tailrace.errors import ScenarioError
from tailrace.journey.product import not_multiplied
from tailrace.journey.travelling import travel
from tailrace.report.sentences import conclusion
from tailrace.report.tables import parts_table
from tailrace.scenario.assumptions import remarks
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving.instruments import Workshop

FLOW = 0.5e-6 / 60
BED = np.pi / 4 * 2.1e-3**2 * 0.1 * 0.6
DEAD = BED / FLOW
K, PLATES, PLUG = 3.0, 15000.0, 10e-9
TAU = PLUG / FLOW

COLUMN = """
[[path]]
name = "column"
part = "column"
bore = "2.1 mm"
length = "100 mm"
particle_diameter = "2.7 um"
porosity = 0.6
plates = 15000
"""
TUBE = '[[path]]\nname = "tube"\npart = "tube"\nbore = "0.12 mm"\nlength = "100 mm"\n'


def text(
    solute="",
    path=COLUMN,
    injection='shape = "plug"\nvolume = "10 uL"',
    more="",
    k=f"retention_factor = {K}",
):
    return f"""
[method]
flow = "0.5 mL/min"
viscosity = "0.6 mPa*s"
{more}
[[solutes]]
name = "a"
diffusivity = "1e-9 m^2/s"
{k}
{solute}
[injection]
{injection}
{path}
"""


def run(*args, accuracy=None, **others):
    return travel(Scenario.from_text(text(*args, **others)).itinerary().computed(accuracy=accuracy))


@pytest.mark.parametrize("ratio", [5.0, 2.0, 0.5])
def test_a_plug_is_focused_as_the_closed_form_says(ratio):
    """Derivation: what enters at t in the plug (0 to tau) is with the sample's solvent until that
    has overtaken it, at the retarded time tau; by then it has migrated (tau - t) / (t0 k_s) of the
    column, and takes t0 k for the rest of it:

        leaving(t) = t0 + tau + t0 k - (tau - t) k / k_s ,

    a straight line in t. So the plug leaves with (k / k_s)^2 of its variance tau^2 / 12, and the
    middle of it at t0 (1 + k) + tau (1 - k / (2 k_s)). A part (tau / 2) / (t0 k_s) of the column is
    passed at k_s; spread there by t0^2 dX / N (1 + k_s)^2 in time at k_s, in time at k by (k/k_s)^2
    of it.
    """
    strong = ratio * K
    result = run(f"sample_retention_factor = {strong}")
    mean, variance = (float(result.recorded[name][0]) for name in ("mean", "variance"))
    assert mean == pytest.approx(DEAD * (1 + K) + TAU * (1 - K / (2 * strong)), rel=1e-5)
    passed = TAU / 2 / (DEAD * strong)
    own = passed * ((1 + strong) * K / strong) ** 2 + (1 - passed) * (1 + K) ** 2
    own *= DEAD**2 / PLATES
    focused = TAU**2 / 12 / ratio**2
    assert abs(variance - own - focused) < result.numerical_error["variance"][0]
    finer = run(f"sample_retention_factor = {strong}", accuracy=1e-6).recorded["variance"][0]
    assert finer - own == pytest.approx(focused, rel=2e-3)
    shares = [part.variance_recorded[0] * FLOW**2 * 1e18 for part in result.parts]
    assert shares[0] == pytest.approx(100 / 12 / ratio**2, rel=1e-3)
    assert result.column_alone["plates_half_height"][0] > 14000


def test_ten_microlitres_focused_five_fold_add_a_third_of_a_square_microlitre():
    plain, focused = (
        run(line).recorded["variance_volume_extra_column"][0] * 1e18
        for line in ("", f"sample_retention_factor = {5 * K}")
    )
    assert plain == pytest.approx(8.333, rel=1e-3)
    assert focused == pytest.approx(0.3333, rel=1e-2)


def carried(entry, factor_at):
    """When an element leaves that enters at ``entry``, by an adaptive method of scipy."""

    def speed(time, place):
        return [1 / (DEAD * (1 + factor_at(time - DEAD * place[0])))]

    def outlet(time, place):
        return place[0] - 1

    outlet.terminal = True
    path = solve_ivp(speed, (entry, entry + 3000), [0.0], events=outlet, rtol=1e-9, max_step=0.05)
    return float(path.t_events[0][0])


def test_the_tail_of_a_washout_is_in_a_solvent_that_weakens():
    # ln k mixes with the share of the sample's solvent, which falls as exp(-t/w) behind the plug
    plug, rinse, strong = 4e-9 / FLOW, 2e-9 / FLOW, 4 * K

    def factor_at(time):
        share = np.exp(-max(time - plug, 0.0) / rinse) if time >= 0 else 0.0
        return K * (strong / K) ** share

    times = np.concatenate([np.linspace(0, plug, 15), plug + rinse * np.linspace(0.1, 12, 60)])
    finely = np.linspace(0.0, times[-1], 20_001)
    leaving = np.interp(finely, times, [carried(time, factor_at) for time in times])
    shares = np.exp(-np.maximum(finely - plug, 0.0) / rinse)
    shares /= shares.sum()
    mean = shares @ leaving
    variance = shares @ (leaving - mean) ** 2
    injection = 'shape = "washout"\nvolume = "4 uL"\nwashout_volume = "2 uL"'
    result = run(f"sample_retention_factor = {strong}", injection=injection)
    assert result.recorded["mean"][0] == pytest.approx(mean, rel=1e-5)
    column = next(part for part in result.parts if part.name == "column")
    outside = result.recorded["variance"][0] - column.variance_exact[0]
    assert outside == pytest.approx(variance, rel=0.02)
    assert result.parts[0].variance_recorded[0] == pytest.approx(variance, rel=0.02)


def test_the_composition_of_the_sample_says_the_same_as_its_retention_factor():
    by_factor = run("sample_retention_factor = 12.0")
    strong = np.log10(200 / 12.0) / 4
    plug = f'shape = "plug"\nvolume = "10 uL"\nstrong = {strong:.12f}'
    by_composition = run("kw = 200\ns = 4", injection=plug)
    for name in ("mean", "variance"):
        one, two = (found.recorded[name] for found in (by_factor, by_composition))
        assert two == pytest.approx(one, rel=1e-9)


MIXED = ('viscosity = "0.6 mPa*s"', "eluent = { water = 0.6, methanol = 0.4 }")
WEAKER = 'shape = "plug"\nvolume = "10 uL"\nstrong = 0.2'


@pytest.mark.parametrize("k", [f"retention_factor = {K}", 'retention_time = "2.9 min"'])
def test_the_eluents_k_and_s_say_what_kw_says(k):
    asked = text("s = 3", injection=WEAKER, k=k).replace(*MIXED)
    made = Scenario.from_text(asked)
    factor = made.document.solutes[0].retention_factor
    by_kw = Scenario.from_text(asked.replace("s = 3", f"s = 3\nkw = {factor * 10**1.2!r}"))
    one, two = (travel(each.itinerary()).recorded for each in (made, by_kw))
    for name in ("mean", "variance"):
        assert one[name] == pytest.approx(two[name], rel=1e-9)
    if "time" in k:
        assert one["mean"][0] == pytest.approx(2.9 * 60, rel=1e-6)
    told = f"{factor * 10**0.6:.3g} of a ({factor:.3g} in the eluent); an estimate from k"
    assert any(told in line for line in made.assumptions())
    assert any(told in line for line in remarks(made, travel(made.itinerary())))
    unknown = asked.replace(MIXED[1], MIXED[0])  # of the eluent only the viscosity
    with pytest.raises(ScenarioError, match="expected the key kw since there is strong"):
        Scenario.from_text(unknown)


def test_a_table_with_focusing_says_what_is_left_and_judges_no_guard_by_the_textbook():
    guard = COLUMN.replace('"column"', '"guard"', 1).replace("100 mm", "5 mm")
    path = guard.replace("plates = 15000", "plates = 700") + COLUMN
    table = parts_table(run(f"sample_retention_factor = {5 * K}", path), 0)
    heads = [" ".join(one) for one in table.head]
    assert "left: what reaches the recorder" in table.title
    ratios = {row[0]: row[heads.index("simulated / Gaussian")] for row in table.rows}
    assert ratios["guard"] == "-" and float(ratios["column"]) == pytest.approx(1, abs=0.01)


GRADIENT = """
[gradient]
dwell_volume = "200 uL"
programme = [{ time = "0 min", strong = 0.4 }, { time = "5 min", strong = 0.9 }]
"""


def test_a_strong_sample_spoils_what_a_gradient_would_focus():
    # 0.35 of the strong liquid before the gradient: k = 200 * 10^(-1.4); k = 20 * 10^(-1.4) in it
    solute = {"solute": "kw = 200\ns = 4", "k": "", "more": GRADIENT}
    plain = run(**solute)
    strong = run(injection='shape = "plug"\nvolume = "10 uL"\nstrong = 0.65', **solute)
    left = [1 - found.parts[0].gradient_focusing[0] for found in (plain, strong)]
    assert left[1] / left[0] == pytest.approx(100, rel=0.1)
    added = [found.parts[0].variance_recorded[0] for found in (plain, strong)]
    own = [found.parts[1].variance_exact[0] for found in (plain, strong)]
    seen = [found.recorded["variance"][0] for found in (plain, strong)]
    assert seen[1] - own[1] == pytest.approx(added[1], rel=0.02)
    assert "The sample's solvent makes" in conclusion(strong)


def test_only_what_enters_with_the_solvent_is_focused():
    # the tube pulls part of the band out of its solvent; what the parts say adds up all the same
    result = run(f"sample_retention_factor = {5 * K}", path=TUBE + COLUMN)
    left = 1 - result.parts[0].gradient_focusing[0]
    assert 1 / 25 < left < 0.1
    column = next(part for part in result.parts if part.name == "column")
    assert column.variance_simulated == pytest.approx(column.variance_exact, rel=2e-3)
    assert "The sample's solvent focuses" in conclusion(result)
    passages = Scenario.from_text(text("sample_retention_factor = 9")).itinerary().passages
    assert "solvent of its own" in not_multiplied(passages)


def test_an_improved_instrument_has_the_solvent_too():
    changes = '[[changes]]\nname = "less"\nset = { injection = { volume = "5 uL" } }\n'
    read = Scenario.from_text(text("sample_retention_factor = 12", path=TUBE + COLUMN + changes))
    built = Workshop(read).build([(), ("less",)])
    for volume, place in zip((10e-9, 5e-9), built.which, strict=True):
        part = next(part for part, _ in built.itineraries[place].passages if part.separates)
        assert part.sample_volume == pytest.approx(volume)
        assert part.sample_delay == pytest.approx(np.pi / 4 * 0.12e-3**2 * 0.1)


@pytest.mark.parametrize(
    ("others", "said"),
    [
        ({"injection": 'shape = "gaussian"\nsigma = "0.1 s"'}, "plug, washout or loop"),
        ({"path": TUBE}, "expected a column on the path"),
        ({"path": COLUMN + 'kinetics = "lumped"\n'}, "in equilibrium with sample_retention_factor"),
        ({"more": GRADIENT, "k": "kw = 200\ns = 4"}, "strong in [injection] in its place"),
        ({"injection": 'shape = "plug"\nvolume = "1 uL"\nstrong = 0.1'}, "leave out sample"),
    ],
)
def test_what_does_not_go_together(others, said):
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_text(text("sample_retention_factor = 12", **others))
    assert said in str(caught.value)


def test_a_composition_needs_the_strength_of_every_solute():
    plug = 'shape = "plug"\nvolume = "1 uL"\nstrong = 0.1'
    with pytest.raises(ScenarioError, match="expected the key kw since there is strong"):
        Scenario.from_text(text(injection=plug))


@pytest.mark.parametrize("more", ["", 'head_volume = "1 uL"\n'])
@pytest.mark.parametrize("plates", ["plates = 15000\n", ""])
def test_beside_a_columns_own_tailing_the_eluent_as_solvent_changes_nothing(plates, more):
    path = COLUMN.replace("plates = 15000\n", plates) + more + "column_tailing = 1.2\n"
    plain, migrating = (run(line, path) for line in ("", f"sample_retention_factor = {K}"))
    for name in ("mean", "variance", "plates_half_height", "tailing_5"):
        assert migrating.recorded[name][0] == pytest.approx(plain.recorded[name][0], rel=3e-4)


def test_a_sample_is_focused_on_a_column_that_tails():
    path, strong = COLUMN + "column_tailing = 1.2\n", 5 * K
    small = Scenario.from_text(text("", path, 'shape = "plug"\nvolume = "0.01 uL"')).itinerary()
    part, stream = next(pair for pair in small.passages if pair[0].separates)
    alone = travel(small).recorded
    focused = run(f"sample_retention_factor = {strong}", path).recorded
    assert alone["tailing_5"][0] == pytest.approx(1.2, abs=0.002)
    # of the bed, a part is passed at k of the sample's solvent, as on a column without a tail
    bed = alone["variance"][0] - part.tail_time(stream)[0] ** 2
    passed = TAU / 2 / (DEAD * strong)
    own = passed * bed * (((1 + strong) / (1 + K) * K / strong) ** 2 - 1)
    added = (focused["variance"] - alone["variance"])[0] - own
    assert added * FLOW**2 * 1e18 == pytest.approx(100 / 12 / 25, rel=5e-3)


def test_k_in_the_eluent_is_named_where_kw_and_s_give_it():
    plug = 'shape = "plug"\nvolume = "1 uL"\nstrong = 0.1'
    with pytest.raises(
        ScenarioError, match=r"add retention_factor = 2 \(which kw and s give at 50 %"
    ):
        Scenario.from_text(
            text("kw = 200\ns = 4", k="", injection=plug).replace(
                'viscosity = "0.6 mPa*s"', "eluent = { water = 0.5, methanol = 0.5 }"
            )
        )
