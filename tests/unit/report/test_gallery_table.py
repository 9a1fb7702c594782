"""Tables behind figures: as CSV, the same bytes each time."""

import csv
import io

import numpy as np
import pytest

from tailrace.report.gallery import Hung, as_csv, as_index
from tailrace.report.table import typeset
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, Series, table_of
from tailrace.wording import speaking

TABLE = {
    "part": Series(values=np.array(['a "b", c', "d"]), unit="", meaning="name", shown=("", 1.0)),
    "time": Series(values=np.array([0.1, np.nan]), unit="s", meaning="time", shown=("s", 1.0)),
    "share": Series(values=np.array([1 / 3, 1e-12]), unit="1", meaning="share", shown=("1", 1.0)),
}


def test_units_stand_in_the_head_and_nothing_for_no_number():
    rows = list(csv.reader(io.StringIO(as_csv(TABLE).decode())))
    assert rows[0] == ["part", "time [s]", "share [1]"]
    assert rows[1] == ['a "b", c', "0.1", "0.333333333"]
    assert rows[2] == ["d", "", "1e-12"]


def test_lines_end_as_the_standard_says():
    # RFC 4180, section 2: CRLF, quotes doubled within quotes.
    content = as_csv(TABLE)
    assert content.count(b"\r\n") == 3
    assert content.count(b"\n") == 3
    assert b'"a ""b"", c"' in content


def test_columns_of_unequal_length_are_refused():
    uneven = TABLE | {
        "more": Series(values=np.arange(3.0), unit="1", meaning="more", shown=("1", 1.0))
    }
    with pytest.raises(ValueError):
        as_csv(uneven)


def test_pieces_are_joined_and_scalars_repeated():
    meanings = {"x": ("1", "x"), "y": ("s", "y")}
    table = table_of(meanings, [{"x": 1.0, "y": np.arange(2.0)}, {"x": 2.0, "y": 7.0}])
    assert table["x"].values.tolist() == [1, 1, 2]
    assert table["y"].values.tolist() == [0, 1, 7]
    assert table["y"].unit == "s"


@pytest.mark.parametrize(
    ("share", "language", "shown"),
    [
        (4e-12, "en", "is drawn: below 0.001\xa0%."),
        (4e-12, "de", "Gezeichneten: unter 0,001\xa0%."),
        (3.8e-5, "en", "is drawn: 0.004\xa0%."),
        (0.12, "en", "is drawn: 10\xa0%."),
    ],
)
def test_an_error_that_nobody_sees_is_told_as_a_bound(share, language, shown):
    error = Series(values=np.array([share, np.nan]), unit="1", meaning="error", shown=("1", 1.0))
    words = dict.fromkeys(("name", "title", "caption", "alt"), "word")
    exhibit = Exhibit(table={ERROR: error}, **words)
    with speaking(language):
        page = as_index([Hung(exhibit=exhibit, svg=b"<svg/>", files=())], "", "")
    assert shown in page


def test_units_are_as_in_print_where_um_is_a_word_too():
    with speaking("de"):
        assert typeset("um") == "µm"
        assert typeset("um zu sehen, um 3 um^2") == "um zu sehen, um 3 µm²"
    assert typeset("variance, m^6") == "variance, m⁶"
    assert typeset("5 umol in 2 um") == "5 µmol in 2 µm"
