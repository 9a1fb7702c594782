"""Maps of a sweep: what is drawn, and that it is read without colours and without eyes."""

from itertools import combinations

import numpy as np
import pytest
import xarray
from matplotlib.backends.backend_agg import FigureCanvasAgg

from tailrace.figures.sweeps import COLOURS, draw_maps


def swept(lengths=(0.05, 0.1, 0.2, 0.4), widths=(0.1, 0.2, 0.3)):
    """A sweep with figures by hand: Gaussian theory is right for long tubes."""
    x, y = np.meshgrid(lengths, widths, indexing="ij")
    dims = ("tube.length", "injection.sigma")
    theory = np.stack([y**2, x], axis=-1)[..., None]
    fourier = np.stack([np.full(x.shape, np.nan), x * 10], axis=-1)[..., None]
    return xarray.Dataset(
        {
            "variance": ((*dims, "solute"), (y**2 + x**2)[..., None]),
            "tailing_5": ((*dims, "solute"), (1 + 1 / (1 + 10 * x))[..., None]),
            "part_variance_gaussian_theory": ((*dims, "part", "solute"), theory),
            "part_fourier_number": ((*dims, "part", "solute"), fourier),
        },
        {
            "tube.length": ("tube.length", list(lengths), {"units": "m"}),
            "injection.sigma": ("injection.sigma", list(widths), {"units": "s"}),
            "solute": ["tracer"],
            "part": ["injection", "tube"],
            "kind": ("part", ["injector", "tube"]),
        },
    )


def meshes(picture):
    return [panel.collections[0].get_array() for panel in picture.figure.axes[:2]]


def test_the_left_map_is_recorded_over_theory_and_the_right_one_tailing():
    dataset = swept()
    ratio, tailing = meshes(draw_maps(dataset))
    # By hand: sigma 0.1 s, 0.2 m in the lower row: (0.01 + 0.04) / (0.01 + 0.2).
    assert ratio.shape == (3, 4)
    assert ratio[0, 2] == pytest.approx(0.05 / 0.21, rel=1e-12)
    assert tailing[1, 0] == pytest.approx(1 + 1 / 1.5, rel=1e-12)


def test_lines_of_fourier_number_and_axes_are_labelled():
    picture = draw_maps(swept())
    texts = [text.get_text() for panel in picture.figure.axes[:2] for text in panel.texts]
    assert "X 1" in texts
    assert picture.figure.get_supxlabel() == "tube: length, m"
    assert picture.figure.get_supylabel() == "injection: sigma, s"
    assert picture.figure.axes[0].get_xscale() == "log"
    dataset = swept()
    dataset["tube.length"].attrs["quantity"] = "length"
    picture = draw_maps(dataset)
    assert picture.figure.get_supxlabel() == "tube: length, mm"
    first, last = picture.figure.axes[0].collections[0].get_coordinates()[0, [0, -1], 0]
    assert first < 50 < 400 < last
    assert picture.figure.axes[0].get_yscale() == "linear"


@pytest.mark.parametrize("levels", [0.9, 0.97, 1.0, 1.03, 1.1])
def test_no_label_of_a_line_stands_on_another(levels):
    """Fourier number 1 and a line of the ratio go side by side, nearer or farther."""
    dataset = swept(np.linspace(0.02, 0.4, 12), np.linspace(0.1, 0.3, 12))
    long = dataset["tube.length"] > 0
    ratio = levels * (1.0 + 0.5 * (dataset["tube.length"] - 0.1)) * long
    theory = dataset["part_variance_gaussian_theory"].sum("part")
    dataset["variance"] = (ratio * theory).transpose(*dataset["variance"].dims)
    picture = draw_maps(dataset)
    canvas = FigureCanvasAgg(picture.figure)
    canvas.draw()
    for panel in picture.figure.axes[:2]:
        boxes = [one.get_window_extent(canvas.get_renderer()) for one in panel.texts]
        assert len(boxes) > 1
        assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))


def test_a_case_that_is_missing_is_left_white():
    dataset = swept()
    dataset["variance"][1, 1] = np.nan
    ratio, _ = meshes(draw_maps(dataset))
    assert np.ma.getmaskarray(ratio).sum() == 1
    dataset["variance"][:] = np.nan
    assert "not known" in draw_maps(dataset).description


def test_the_files_are_the_same_and_carry_words():
    picture, again = draw_maps(swept()), draw_maps(swept())
    assert picture.svg() == again.svg()
    assert picture.png() == again.png()
    assert "Fourier number X of tube" in picture.svg().decode()


def test_the_colours_rise_in_lightness():
    # Rec. 709 luma, ITU-R BT.709: what is left where colours are not told apart.
    luma = COLOURS(np.linspace(0, 1, 64))[:, :3] @ [0.2126, 0.7152, 0.0722]
    assert np.all(np.diff(luma) > 0)


def test_what_cannot_be_a_map_is_refused():
    with pytest.raises(ValueError, match="two varied numbers"):
        draw_maps(swept().isel({"injection.sigma": 0}))
    with pytest.raises(ValueError, match="no solute 'x'"):
        draw_maps(swept(), "x")
