"""What `check` and `run` say before anything long starts."""

import numpy as np
import pytest
from click.testing import CliRunner

from tailrace.cli.main import main
from tailrace.cli.run import _Watch
from tailrace.cli.studying import progress_bar
from tailrace.parts.tube.bent import between
from tailrace.scenario.examples import folder

SCENARIO = folder() / "inherited-core-shell.toml"


@pytest.fixture
def checked(tmp_path):
    def answer(*pairs):
        file, text = tmp_path / "scenario.toml", SCENARIO.read_text(encoding="utf-8")
        for old, new in zip(pairs[::2], pairs[1::2], strict=True):
            text = text.replace(old, new)
        file.write_text(text, encoding="utf-8")
        done = CliRunner().invoke(main, ["check", str(file)])
        assert done.exit_code == 0
        return " ".join(done.output.split())

    return answer


def test_check_computes_the_pressure(checked):
    assert "Pressure: 191 bar ± 20 % over the whole path" in checked("", "")


def test_a_flow_ten_times_too_high_is_a_warning(checked):
    text = checked("0.60 mL/min", "6.0 mL/min")
    assert "Warning: pressure: 1.91e+03 bar, the limit is 400 bar" in text
    assert "check the point and the unit" in text


def test_it_is_so_without_a_limit_too(checked):
    text = SCENARIO.read_text()
    assert "check the point and the unit" in checked(
        text,
        text.replace("0.60 mL/min", "6.0 mL/min").replace('[limits]\npressure = "400 bar"\n', ""),
    )
    assert "check the point and the unit" not in checked("", "")


def test_a_cell_of_millilitres_is_a_warning(checked):
    assert "volume 13 mL lies outside" in checked('"13 uL"', '"13 mL"')


@pytest.mark.parametrize(
    ("coarse", "fine", "phrase"),
    [
        (1.2, 8.0, "up to about 31 s"),  # from the coarse journey
        (0.3, 2.0, "up to about 8 s"),  # from the fine one, which came to its second part
        (0.1, 0.4, ""),
    ],
)
def test_a_long_run_says_what_it_will_take(coarse, fine, phrase, monkeypatch, capsys):
    passed = [0.0, *np.cumsum([coarse] * 4 + [fine] * 4)]
    clock = iter(passed)
    monkeypatch.setattr("tailrace.cli.run.time.monotonic", lambda: next(clock))
    watch = _Watch([8.0] * 4, ["seat"])
    for done in range(1, 9):
        watch(done, 16)
    text = capsys.readouterr().err
    assert phrase in text and "bent: seat" in text if phrase else text == ""


def test_a_long_study_says_once_what_is_left(monkeypatch, capsys):
    """Of 13,055 journeys 8 in 6 s: 163 minutes for the others. What loads the program, as the
    scenario as it stands and the first block do, is no measure of what follows."""
    clock = iter([0.0, 30.0, 90.0, 92.0, 96.0, 97.0])
    monkeypatch.setattr("tailrace.cli.studying.SOON", 5.0)
    monkeypatch.setattr("tailrace.cli.studying.time.monotonic", lambda: next(clock))
    with progress_bar("journeys", 13_055) as progress:
        for done in (0, 1, 5, 9, 13, 17):
            progress(done, 10_000)
    text = capsys.readouterr().err
    assert text == "13 of up to 13055 journeys done; about 163 min left\n"


def test_what_products_take_is_not_foretold_from_marches(monkeypatch, capsys):
    """Four marches in 100 s say nothing of the 896 products of the next batch."""
    clock = iter([0.0, 1.0, 2.0, 2.0, 50.0, 100.0, 100.0, 140.0, 150.0, 156.0])
    monkeypatch.setattr("tailrace.cli.studying.time.monotonic", lambda: next(clock))
    with progress_bar("parts") as progress:
        for done, total in ((0, 128), (64, 128), (128, 128), (128, 132), (130, 132), (132, 132)):
            progress(done, total)
        for done in (132, 332, 532, 732):
            progress(done, 1028)
    assert capsys.readouterr().err == ""


def test_what_is_compiled_is_said_before_it_is(capsys):
    watch = _Watch([8.0], [])
    watch.begin(8.0, 0.3)
    assert (
        "8.3 s of one processor, to a factor of two, of which 8 s compile"
        in capsys.readouterr().err
    )
    watch.begin(0.0, 0.3)
    assert capsys.readouterr().err == ""
    watch.begin(0.0, 119.4)
    assert "about 120 s" in capsys.readouterr().err
    _Watch([8.0], ["coil"]).begin(0.0, 119.4)
    assert "about 120 s of one processor, or several times as long" in capsys.readouterr().err


def test_check_solves_for_no_bend_that_takes_long(checked, monkeypatch):
    """A coil of 1 mm radius at 2.5 mL/min: its exact cumulants took minutes, five times over."""
    solved = []
    monkeypatch.setattr(between, "chain_cumulants", lambda chain: solved.append(chain) or (1, 1))
    close = 'name   = "tube to heater"\nbend_radius = "1 mm"'
    text = checked('name   = "tube to heater"', close, "0.60 mL/min", "2.5 mL/min")
    assert "tube to heater: bent; a run takes about" in text
    assert "an unretained solute would be recorded at" in text
    assert not solved
