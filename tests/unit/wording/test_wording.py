"""The table of words: both languages in full, and no text of a figure beside it."""

import re
from functools import partial

import matplotlib
import numpy as np
import pytest
from reference.wording import places, said, wordy, written

from tailrace import wording
from tailrace.figures.gallery import draw
from tailrace.measures.registry import METRICS, SIGNALS
from tailrace.report.measured.diagnosis import label
from tailrace.scenario.accept import MEASURES
from tailrace.studies.gallery import ENTRIES, compute
from tailrace.studies.plume import plume
from tailrace.web.sliding import COURSE, HEADINGS
from tailrace.wording import LANGUAGES, number, say, speaking, table

OTHERS = LANGUAGES[1:]


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_that_is_said_is_in_the_table(language):
    texts = {text for text in said() if wordy(text)}
    texts |= {entry.line for entry in ENTRIES.values()} | set(MEASURES)
    texts |= {metric.label for metric in (METRICS | SIGNALS).values()}
    texts |= {COURSE, *HEADINGS.values()}
    assert len(texts) > 250
    assert texts - set(table(language)) == set()


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_of_the_table_is_said_somewhere_with_the_same_places(language):
    # names of metrics are taken apart, states of an instrument put together from their number
    parts = {"solute", "pair"} | {text for text in table(language) if text.startswith("after step")}
    assert set(table(language)) - written() - parts - set(MEASURES) == set()
    for text, other in table(language).items():
        assert other.strip(), text
        assert places(text) == places(other), text
        assert text.startswith(" ") == other.startswith(" "), text


def test_numbers_have_a_decimal_comma_and_names_stay():
    with speaking("de"):
        span = say("{name} from {low:.3g} to {high:.3g}", name="X 0.5", low=0.25, high=12.5)
        assert span == "X 0.5 von 0,25 bis 12,5"
        assert say("{part} ({plates})", part="tube 0.5", plates="3.5") == "tube 0.5 (3.5)"
        assert (number("1.25"), number("not known")) == ("1,25", "nicht bekannt")
    assert (number("1.25"), number("not known")) == ("1.25", "not known")


def test_a_fault_is_called_in_the_language_that_holds():
    faults = "injection.washout_volume + tube to cell.bore", "joint tee | cell.gap_length", "none"
    assert [*map(label, faults)] == [
        "washout volume of the injection and bore of tube to cell",
        "gap between tee and cell",
        "none",
    ]
    with speaking("de"):
        assert [*map(label, faults)] == [
            "Auswaschvolumen der Injektion und Innendurchmesser von tube to cell",
            "Spalt zwischen tee und cell",
            "keine",
        ]


class Marked(dict):
    """A table that marks every text that it has."""

    def get(self, text, default=None):
        return f"⟦{self[text]}⟧" if text in self else text


FEWER = (
    ("variances.INSTRUMENTS", 3),
    ("bent_tubes.FLOWS", np.array([0.1e-6, 0.2e-6]) / 60),
    ("bent_tubes.SHOWN", 0),
    ("tubes.FOURIER_NUMBERS", (0.3, 1.0, 3.0)),
    ("tubes.SIMULATED", (0.1, 1.0)),
    ("tubes.plume_of", partial(plume, rings=8, sections=24)),
    ("plates.RETENTION_FACTORS", (1.0, 10.0)),
    ("plates._shares", lambda instrument, places, *_: (np.ones(len(places)),) * 2),
    ("noise.SHARES", np.array([0.05, 1.0, 3.0])),
    ("noise.SHOWN", (0, 2)),
    ("plates.FLOWS", np.array([0.5, 1.0, 2.0, 4.0, 8.0])),
)


@pytest.fixture
def marked(monkeypatch):
    german = Marked(table("de"))
    monkeypatch.setattr(wording, "table", lambda language: german)
    for name, fewer in FEWER:
        monkeypatch.setattr(f"tailrace.studies.gallery.{name}", fewer)
    with speaking("de"):
        yield


def unmarked(text):
    """What a text says beside what is marked."""
    while "⟦" in text:
        text, count = re.subn(r"⟦[^⟦⟧]*⟧", " ", text)
        assert count
    return wordy(text.replace("{", "").replace("}", ""))


def texts_of(figure):
    return {one.get_text() for one in figure.findobj(matplotlib.text.Text)} - {""}


@pytest.mark.parametrize("name", ENTRIES)
def test_no_text_of_a_figure_is_outside_the_table(name, marked):
    exhibit = compute(name)
    picture = draw(exhibit, "slide")
    whole = {exhibit.title, exhibit.caption, exhibit.alt, *texts_of(picture.figure)}
    assert {text for text in whole if unmarked(text)} == set()
    assert not [text for text in whole if re.search(r"\d\.\d", text)]
