"""Every page that a command writes, as axe-core sees it: nothing serious."""

from itertools import product

import pytest
from reference.axe import script, serious
from reference.benches import FOUND, browser
from reference.every_kind import COMMANDS, call, made, written

import tailrace

pytestmark = pytest.mark.skipif(FOUND is None, reason="needs chromium and chromedriver")
OTHERS = {"qualify": ["qualify", "--out"], "figures": ["figures", "staircase", "noise", "--out"]}
"""Pages of no record."""


def pages(folder, name):
    """Every page that a command writes; of a study without one, what Python makes of it."""
    if name in OTHERS:
        out = folder / ("made" if name == "figures" else "made.html")
        assert call(*OTHERS[name], out).exit_code == 0
    else:
        record = made(folder, name)
        if record.name == "made.h5":
            written(folder, name)  # the files that its scenario names
            (folder / "made.html").write_text(tailrace.read(record).to_html(), encoding="utf-8")
    return sorted(folder.rglob("*.html"))


@pytest.mark.parametrize("name", [*COMMANDS, *OTHERS])
def test_nothing_serious_in_any_report(tmp_path, name):
    if not script():
        pytest.skip("needs axe-core from the npm registry")
    there = pages(tmp_path, name)
    assert there
    found = []
    with browser(tmp_path / "profile") as driver:
        for page, width, scheme in product(there, (1440, 390), ("light", "dark")):
            told = serious(driver, page.as_uri(), width, scheme)
            found += [(page.name, width, scheme, *one) for one in told]
    assert found == []
