"""The page of a run: complete, alone, and harmless whatever the scenario calls its parts."""

from dataclasses import replace

import numpy as np
import pytest
from reference.pages import FETCHING, Reader

from tailrace.figures.path import draw_sources
from tailrace.figures.peaks import draw_peaks
from tailrace.records.provenance import Provenance
from tailrace.records.record import as_record
from tailrace.report.page import as_page
from tailrace.report.paper import ALWAYS, folded, inlined, unbroken
from tailrace.report.table import typeset
from tailrace.report.tables import (
    amounts_table,
    metrics_table,
    parts_table,
    pressure_table,
    recorded_table,
)

PROVENANCE = Provenance(
    title="A title",
    scenario_sha256="a1b2c3",
    scenario='\ntitle = "A title"\n[method]\n',
    version="9.8.7",
    assumptions=("outlet tube: taken as straight and round",),
)


def page_of(result, provenance=PROVENANCE):
    return as_page(result, provenance, [draw_sources(result), draw_peaks(result)])


@pytest.fixture
def hostile(make_result, rows):
    """Names that would be markup, code or an address where they were not escaped."""
    seat = ('seat" onload="alert(1)" id="x', *rows["needle seat"][1:])
    return make_result(
        lanes=("<script>alert(1)</script>", "</text></svg><img src=//a.example/x>"),
        rows=[rows["injection"], seat, rows["column"], rows["flow cell"]],
        warnings=("<b>bold</b> & co",),
    )


def test_paper_says_what_is_folded_and_where(result):
    text = Reader(page_of(result)).text
    (line,) = (one for one in text.split("\n") if "on paper only where it was opened" in one)
    assert "under “Pressure” Pressure drop of each part" in line
    assert "under “Where this comes from” The scenario file in full" in line
    assert folded("<h2>a</h2><p>b</p>") == "Nothing of this page is folded."


def test_every_cell_of_every_table_is_on_the_page(result):
    text = Reader(page_of(result)).text
    tables = (
        recorded_table(result),
        parts_table(result, 0),
        amounts_table(result),
        metrics_table(result, 0),
        pressure_table(result.pressure),
    )
    for table in tables:
        assert typeset(table.title) in text
        for row in table.rows:
            assert typeset(" ".join(" ".join(row).split())) in text


def test_where_it_comes_from_is_on_the_page(result):
    text = Reader(page_of(result)).text
    for said in (*PROVENANCE.assumptions, *ALWAYS, "a1b2c3", "tailrace 9.8.7", np.__version__):
        assert said in text
    assert 'title = "A title" [method]' in text


def test_the_scenario_is_shown_to_the_letter(result):
    # An HTML reader drops one line end right after <pre>; the file's own first one must survive.
    page = page_of(result, replace(PROVENANCE, scenario="\n  a = 1\n\n  b = 2\n"))
    assert "<pre>\n\n  a = 1\n\n  b = 2\n</pre>" in page


def test_warnings_come_first(make_result):
    result = make_result(warnings=("inlet: too short",))
    text = Reader(page_of(result)).text
    assert text.index("Warning: inlet: too short") < text.index("What is recorded")
    assert "No warnings." in Reader(page_of(make_result())).text


def test_the_pictures_can_be_read_aloud(result):
    reader = Reader(page_of(result))
    pictures = [attrs for tag, attrs in reader.elements if tag == "svg"]
    assert [attrs["role"] for attrs in pictures] == ["img", "img"]
    assert draw_peaks(result).description in reader.text


def test_no_element_fetches_and_no_address_is_there(hostile):
    page = page_of(hostile)
    reader = Reader(page)
    assert not FETCHING & {tag for tag, _ in reader.elements}
    assert "://" not in page
    links = reader.values("href") + reader.values("xlink:href") + reader.values("src")
    assert links
    assert all(link.startswith("#") for link in links)
    assert not [name for _, attrs in reader.elements for name in attrs if name.startswith("on")]


def test_the_policy_forbids_what_is_not_needed(result):
    # Content Security Policy Level 3 (W3C), names of the directives from memory
    elements = Reader(page_of(result)).elements
    policies = [
        attrs["content"]
        for _, attrs in elements
        if attrs.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.strip().split(" ", 1) for rule in policies[0].split(";"))
    assert rules == {
        "default-src": "'none'",
        "style-src": "'unsafe-inline'",
        "img-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
    }


def test_names_stay_names(hostile):
    title = "<i>odd</i> & \"quoted\" 'title'"
    scenario = "# </pre><script>alert(1)</script>"
    page = page_of(hostile, replace(PROVENANCE, title=title, scenario=scenario))
    reader = Reader(page)
    assert title in reader.text
    assert scenario in reader.text
    assert "<b>bold</b> & co" in reader.text
    assert "<script>alert(1)</script>" in reader.text
    assert 'seat" onload="alert(1)" id="x' in reader.text


def test_a_control_character_in_a_picture_is_replaced():
    # XML 1.0, production 2, forbids it; a name in a picture may hold it.
    assert inlined(b"<svg><text>a\x01b</text></svg>", "n-") == "<svg><text>a\ufffdb</text></svg>"


def test_every_name_within_the_pictures_is_unique_and_found(result):
    page = page_of(result)
    reader = Reader(page)
    names = reader.values("id")
    assert len(names) == len(set(names)) > 100
    wanted = {link[1:] for link in reader.values("href")}
    wanted |= {part.split(")")[0] for part in page.split("url(#")[1:]}
    assert wanted
    assert wanted <= set(names)


def test_a_picture_is_set_in_without_its_prologue():
    svg = (
        b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" '
        b'xmlns:xlink="http://www.w3.org/1999/xlink"><metadata>m</metadata>'
        b'<path id="p" style="fill: url(#h)"/><use xlink:href="#p"/></svg>'
    )
    assert inlined(svg, "n-") == (
        '<svg><path id="n-p" style="fill: url(#n-h)" /><use href="#n-p" /></svg>'
    )


def test_figures_that_do_not_exist_are_dashes(result):
    recorded = {**result.recorded, "tailing_5": np.array([np.nan])}
    error = {"variance": np.array([-0.00123])}
    changed = replace(result, recorded=recorded, numerical_error=error)
    cells = {row[0]: row for row in metrics_table(changed, 0).rows}
    assert cells["symmetry factor at 5 % of the height"][2:] == ("-", "-")
    assert cells["variance of the peak"][1] == "s^2"
    assert cells["variance of the peak"][3] == "0.0012"


def test_pressure_in_bar_with_its_sum(result):
    rows = pressure_table(result.pressure).rows
    # 1 to 6 bar by the fixture, 21 together
    assert rows[0] == ("needle seat", "1.00")
    assert rows[-1] == ("whole path", "21.0")


def test_a_stored_record_gives_the_page_of_its_result(make_result):
    result = make_result(lanes=("a", "b"), warnings=("w",))
    assert page_of(as_record(result, PROVENANCE)) == page_of(result)


def test_a_path_without_a_column(make_result, rows):
    page = page_of(make_result(rows=[rows["injection"], rows["needle seat"]]))
    assert "The path has no column" in Reader(page).text


def test_a_number_stays_with_its_unit_but_in_files_and_pictures():
    kept = "<pre>flow = 5 % `a`</pre><svg><path d='M 1 2 s'/></svg>"
    page = unbroken(f"<p>191 bar ± 20 % of 0.2 s, `tailrace run`</p>{kept}<p>1 %</p>")
    told = page.replace("\u00a0", "_")
    assert told == (f"<p>191_bar ±_20_% of 0.2_s, <code>tailrace run</code></p>{kept}<p>1_%</p>")
