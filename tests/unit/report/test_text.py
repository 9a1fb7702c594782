"""The tables and sentences of a run."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tailrace.journey.result import Pressure, Regained
from tailrace.measures import SIGNALS
from tailrace.report.run import as_text, blocks
from tailrace.report.sentences import conclusion, pressure_line
from tailrace.report.table import WIDTH, Table, shown
from tailrace.report.tables import (
    amounts_table,
    parts_table,
    recorded_table,
    regained_table,
    signal_table,
)

NAN = float("nan")


def with_plates(result, recorded, alone):
    measures = {**result.recorded, "plates_half_height": np.array(recorded)}
    alone = {"plates_half_height": np.array(alone), "tailing_5": np.ones(len(alone))}
    return replace(result, recorded=measures, column_alone=alone)


@pytest.fixture
def wide(make_result, rows):
    """Long names everywhere, and numbers at the ends of what is shown."""
    lanes = ("a solute with a name of more than forty characters", "b")
    path = [rows["injection"], rows["long"], rows["column"], rows["detector"]]
    return make_result(lanes=lanes, rows=path, warnings=("word " * 60,))


def test_plain_text_is_plain_and_narrow(wide):
    text = as_text(wide, "A title " * 30)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "\x1b" not in text
    assert not set(text) & set("─│┌┐━┃")
    assert text == "\n".join(line.rstrip() for line in text.splitlines())


def test_every_part_has_a_row_with_its_numbers(result):
    text = as_text(result, "title")
    row = next(line for line in text.splitlines() if line.startswith("needle seat"))
    # 0.01041 / 0.0620 = 0.168 and 0.01041 / 1.324662 = 0.79 % by hand, from the fixture's rows.
    expected = ["2.27", "0.227", "0.035", "0.0620", "0.0104", "0.0104"]
    # 0.01041 s^2 at 1e-8 m^3/s
    expected += ["1.04", "0.168", "0.79"]
    assert row.split()[2:] == expected


def test_what_does_not_exist_is_a_dash(result):
    cells = {row[0]: row for row in parts_table(result, 0).rows}
    assert cells["detector"][1] == "-"
    assert cells["detector"][3] == "-"
    assert cells["detector"][5] == "-"
    assert cells["detector"][4] == "0.250"


def test_the_last_row_is_the_sum_and_the_sample_is_no_volume_of_the_path(make_result, rows):
    injection = ("injection", "injector", 5e-9, *rows["injection"][3:])
    last = parts_table(make_result(rows=[injection, rows["needle seat"]]), 0).rows[-1]
    assert last[1] == "2.27"
    # 0.0033 + 0.01041 by hand.
    assert last[6] == "0.0137"
    # at 1e-8 m^3/s
    assert last[7] == "1.37"
    assert last[9] == "100"


def test_recorded_figures_carry_their_errors(result):
    result = with_plates(result, [2860.47], [16630.0])
    result = replace(
        result, numerical_error={"plates_half_height": np.array([0.31]), "tailing_5": [0.004]}
    )
    row = recorded_table(result).rows[0]
    assert row[1:5] == ("16630", "2860.5 ± 0.3", "17.2", "1.250 ± 0.004")
    assert row[5] == "1.210"
    assert amounts_table(result).rows[0][2:] == ("100.0000", "8.0e-09")


def test_the_extra_column_variance_is_told_in_square_microlitres(result):
    measures = result.recorded | {"variance_volume_extra_column": np.array([1.23456e-16])}
    errors = result.numerical_error | {"variance_volume_extra_column": np.array([4e-19])}
    row = amounts_table(replace(result, recorded=measures, numerical_error=errors)).rows[0]
    assert row[1] == "123.5 ± 0.4"


def test_the_sentence_says_plates_places_and_base(result):
    sentence = conclusion(with_plates(result, [3000.0], [12000.0]))
    # 0.8452 and 0.2513 of 1.144562 s^2 outside the column, by hand.
    assert sentence == (
        "Of 12000 plates that the column could give, 3000 (25.0 %) reach the recorder; most of "
        "the loss is in flow cell (73.8 %) and detector (22.0 %), shares of the variance added "
        "outside the column."
    )


def test_the_sentence_names_the_solute_that_loses_most(make_result):
    result = with_plates(make_result(lanes=("a", "b")), [6000.0, 3000.0], [12000.0, 12000.0])
    assert conclusion(result).startswith("Most is lost for b: of 12000 plates")


def test_the_sentence_without_a_column(make_result, rows):
    sentence = conclusion(make_result(rows=[rows["injection"], rows["needle seat"]]))
    # 0.01041 of 0.01371 s^2 by hand.
    assert "no column" in sentence
    assert "is in needle seat (75.9 %) and injection (24.1 %), shares of the variance" in sentence


def test_the_sentence_where_no_plates_can_be_read(result):
    assert "not one can be read" in conclusion(with_plates(result, [NAN], [12000.0]))


def test_where_many_parts_share_the_loss_none_is_called_most(make_result, rows):
    path = [(f"tube {k}", *rows["needle seat"][1:]) for k in range(8)]
    sentence = conclusion(with_plates(make_result(rows=[*path, rows["column"]]), [5e3], [1e4]))
    assert "the largest share of the loss is in tube 0 (12.5 %), tube 1" in sentence
    assert "tube 3" not in sentence


def pressure_of(total, cell_inlet=NAN, most=1.0, **more):
    """``most``: the thickest liquid of a programme, over the eluent."""
    highest = {"highest": most * total, "highest_at_cell": most * cell_inlet}
    return Pressure(total=total, parts={}, cell_inlet=cell_inlet, **highest, **more)


def test_pressure_is_said_in_bar():
    assert pressure_line(pressure_of(2.26e7, 1.2e5)) == (
        "Pressure: 226 bar ± 20 % over the whole path, 1.2 bar at the inlet of the cell."
    )
    behind = SimpleNamespace(name="second cell", behind=True)
    line = pressure_line(pressure_of(2.26e7, 0.0), [behind])
    assert "second cell" in line and "not on the path" not in line
    assert "cell" not in pressure_line(pressure_of(2.26e7))
    assert "not known" in pressure_line(pressure_of(NAN))


def test_warnings_are_shown_word_for_word(make_result):
    result = make_result(warnings=("[red]odd[/red] name",))
    assert "Warning: [red]odd[/red] name" in as_text(result, "t")


@pytest.mark.parametrize("width", [20, 40, 80])
def test_a_terminal_shows_every_number_whole_at_any_width(result, width):
    text = shown(blocks(result, "A title"), width, lambda line: f"<b>{line}</b>")
    assert "<b>A title</b>" in text
    for row in (*parts_table(result, 0).rows, *recorded_table(result).rows):
        for cell in row[1:]:
            assert cell in text


def test_a_table_is_folded_to_the_width_of_the_terminal(result):
    text = shown(blocks(result, "A title"), 80)
    assert max(map(len, text.splitlines())) <= 80


def test_no_name_is_cut_at_any_width():
    name = "a joint of two tubes of very different bores"
    table = Table("Title", (("part", ""), ("volume", "uL")), ((name, "1.0"), ("b", "2.0")))
    for width in (20, 24, 40, 80):
        text = table.text(width)
        assert max(map(len, text.splitlines())) <= width
        rows = " ".join(text.split("-\n")[1].split())
        assert rows.replace(" 1.0", "", 1) == f"{name} b 2.0"


def test_what_its_error_hides_is_not_told_as_a_number(make_result):
    plain = make_result()
    errors = {name: 0.6 * np.abs(one) for name, one in plain.recorded.items()}
    text = as_text(replace(plain, numerical_error=errors), "t")
    assert text.split("What is recorded")[1].count("not resolved") >= 4
    assert "recorder is not resolved" in " ".join(text.split())
    assert "not resolved" not in as_text(plain, "t")


def test_what_comes_back_within_the_error_is_said_to_be_below_it(result):
    def told(back, error):
        values = {"flow cell": np.array([back])}
        regained = Regained(
            plates=values,
            peak_capacity={"flow cell": np.array([NAN])},
            resolution={"flow cell": NAN},
            numerical_error={"flow cell": np.array([error])},
        )
        table = regained_table(replace(result, regained=regained))
        return table.title, table.rows[0][1]

    title, cell = told(0.2, 13.0)
    assert "below the discretisation error" in title
    assert cell == "< 13"
    title, cell = told(250.0, 13.0)
    assert "below" not in title
    assert cell == "250 ± 13"
    assert told(0.0, 0.0)[1] == "0"


def test_the_pressure_is_held_against_its_limit():
    pressure = pressure_of(248e5, limit=600e5)
    assert "within the limit of 600 bar" in pressure_line(pressure)
    assert "above the limit" in pressure_line(replace(pressure, limit=200e5))
    assert "limit" not in pressure_line(replace(pressure, limit=NAN))
    programme = pressure_line(pressure_of(248e5, most=1.25, limit=300e5), gradient=True)
    assert "248 bar" in programme
    assert "310 bar with the most viscous liquid of the programme, above the limit" in programme


def test_noise_is_shown_where_it_is_given(result):
    quiet = {name: np.full(1, NAN) for name in SIGNALS} | {"relative_noise": np.ones(1)}
    said = signal_table(replace(result, signal=quiet))
    assert "noise" not in str(said.head) + said.title
    said = signal_table(replace(result, signal=quiet | {"noise": np.full(1, 1e-5)}))
    assert "noise" in str(said.head)


def test_no_negative_amount_is_cut_off(result):
    """A sum that is off by rounding is no amount, whichever its sign."""
    first, *rest = result.parts
    for lost, told in (
        (-9.5e-12, "< 1e-9"),
        (3e-11, "< 1e-9"),
        (2.5e-7, "2.5e-07"),
        (-2e-3, "-0.0020"),
    ):
        parts = tuple(replace(one, amount_lost=0.0 * one.amount_lost) for one in rest)
        one = replace(first, amount_lost=np.full(len(result.lanes), lost))
        cells = amounts_table(replace(result, parts=(one, *parts))).rows[0]
        assert cells[-1] == told
