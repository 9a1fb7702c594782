"""The scripts in cells: each runs, and every cell ends on something that can be shown."""

import ast
from pathlib import Path

import numpy as np
import pytest

FOLDER = Path(__file__).parents[2] / "scenarios" / "notebooks"
SCRIPTS = sorted(FOLDER.glob("*.py"))


def cells(path):
    """The cells of code."""
    pieces = path.read_text(encoding="utf-8").split("# %%")[1:]
    return [piece.split("\n", 1)[1] for piece in pieces if "[markdown]" not in piece.split("\n")[0]]


@pytest.fixture(scope="module", params=SCRIPTS, ids=lambda path: path.stem)
def played(request):
    """Names after all cells have run as a notebook runs them, and what each cell ended on."""
    names, shown = {"__file__": str(request.param), "__name__": "notebook"}, []
    for cell in cells(request.param):
        *steps, last = ast.parse(cell).body
        assert isinstance(last, ast.Expr), "a cell ends on the object that it shows"
        kept = ast.Assign([ast.Name("_", ast.Store())], last.value)
        module = ast.fix_missing_locations(ast.Module([*steps, kept], []))
        exec(compile(module, request.param.name, "exec"), names)
        shown.append(names["_"])
    return names, shown


def test_there_is_one():
    assert [path.stem for path in SCRIPTS] == ["first_steps"]


def test_every_cell_shows_something(played):
    _, shown = played
    assert len(shown) == 7
    rich = [one for one in shown if hasattr(one, "_repr_html_")]
    assert len(rich) == 3
    assert all(one._repr_html_().startswith("<div>") for one in rich)


def test_what_the_cells_say_holds(played):
    names, _ = played
    # README: 2410 plates, the tubes 0.31 to 0.64 of the textbook's variance.
    assert names["plates"]["cohumulone"] == pytest.approx(2411, rel=1e-3)
    assert all(0.3 < ratio < 0.65 for ratio in names["ratios"].values())
    assert (
        names["improved"].recorded["plates_own_retention"][0] > 1.8 * names["plates"]["cohumulone"]
    )
    assert names["kept"].shape == (6, 3)
    assert np.all(np.diff(names["kept"], axis=0) < 0)
