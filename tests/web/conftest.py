"""The bench of a shipped scenario, open in a browser."""

import pytest
from reference.benches import START, Bench, browser

from tailrace.web.bench_page import bench_page


@pytest.fixture(scope="session")
def opened(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    page = folder / "bench.html"
    page.write_text(bench_page(START.read_text("utf-8"), START.name), encoding="utf-8")
    with browser(folder / "profile") as driver:
        yield Bench(driver, page, folder)


@pytest.fixture
def bench(opened):
    return opened.visit()
