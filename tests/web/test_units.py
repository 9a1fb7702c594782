"""Units as JavaScript reads them are those that the program reads, and so are their sentences."""

import re

import numpy as np
import pytest
from reference import javascript

from tailrace.errors import QuantityError
from tailrace.quantities.kinds import KINDS, show
from tailrace.quantities.parse import parse
from tailrace.report.numbers import percent, significant
from tailrace.web.facts import facts

pytestmark = pytest.mark.skipif(bool(javascript.missing()), reason=javascript.missing())


@pytest.fixture(scope="module")
def ask():
    return javascript.engine()


TEXTS = [
    *("0.005 in", "4 inches", "1.5 millimeters", "2 thou", "100 Å", "1e3 um", "5 cm", "3 ft"),
    *("2 uL", "2 µL", "2 microliter", "2 mm^3", "2 mm**3", "2 mm³", "2 mm3", "2e-9 m^3"),
    *("0.6 mL/min", "0.6 mL / min", "0.6 cm^3*min^-1", "1 uL s^-1", "10 mm^3/s", "36 mL/h"),
    *("35 degC", "308.15 K", "95 degF", "35 °C", "35 celsius"),
    *("1.1e-9 m^2/s", "1.1e-5 cm2/s", "1.1e-5 cm²/s", "0.9 cP", "0.9 mPa*s", "0.9 mPa s"),
    *("0.9 mPa·s", "400 bar", "5800 psi", "40 MPa", "4e7 N/m^2", "20 s^-1", "20 1/s", "5 Hz"),
    *("0.3 kHz", "1200 1/min", "50 ms", "0.5 min", "2 h", "12000 L/mol/cm", "0.02 mAU"),
    *("2 nmol", "180 cm^3/mol", "180 mL/mol", "10 uL^2", "0.5 Minute", "1 M", "1 C", "1 mm mm"),
    *(
        "",
        "1",
        "mm",
        "1 parsec",
        "1,5 mm",
        "1 mm/",
        "1e999 mm",
        "nan mm",
        "1 m^0",
        "1 m^12",
        "-1 mm",
    ),
]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_texts_are_read_alike(ask, kind):
    for text in TEXTS:
        try:
            expected = parse(text, kind)
        except QuantityError as error:
            told = ask("tried", text, kind)["refused"]
            assert told is not None, text
            assert told.split(";")[0] == str(error).split(";")[0]
        else:
            assert ask("tried", text, kind)["value"] == pytest.approx(expected, rel=1e-14), text


SLIPS = {
    "temperature": ("35 C", "95 F", "35 deg", "35c"),
    "bore": ('.007"', "0.007''", "0.005 ″", "0.12 MM"),
    "length": ('4"', "100 Mm", "4 x"),
    "volume": ("2 UL", '2"'),
}


@pytest.mark.parametrize(("kind", "texts"), SLIPS.items())
def test_what_is_meant_is_said_alike_and_can_be_read(ask, kind, texts):
    for text in texts:
        with pytest.raises(QuantityError) as refused:
            parse(text, kind)
        told = ask("tried", text, kind)["refused"]
        assert told.split(";")[1:] == str(refused.value).split(";")[1:]
        for offered in re.findall('write "(.+?)"', str(refused.value)):
            assert ask("tried", offered, kind)["value"] == pytest.approx(parse(offered, kind))


def test_names_of_units_with_prefixes_are_read_alike(ask):
    rng = np.random.default_rng(4)
    units, prefixes = facts()["units"]["names"], facts()["units"]["prefixes"]
    names = rng.choice(sorted(units), 300)
    known = 0
    for name in names:
        text = f"3 {rng.choice(['', *prefixes])}{name}{rng.choice(['', '', 's'])}"
        for kind in ("length", "duration", "pressure", "volume"):
            try:
                expected = parse(text, kind)
            except QuantityError as error:
                if "not a unit" in str(error):
                    assert "not a unit" in (ask("tried", text, kind)["refused"] or ""), text
            else:
                known += 1
                assert ask("tried", text, kind)["value"] == pytest.approx(expected), text
    assert known > 5


def test_values_are_shown_alike(ask):
    rng = np.random.default_rng(5)
    for kind, row in KINDS.items():
        for value in np.exp(rng.uniform(np.log(max(row.lowest, 1e-18)), np.log(row.greatest), 20)):
            assert ask("display", value, kind) == show(value, kind)
    for value in (1.0, 0.1, 123456.0, 1.5e-7, 1e22, -2.4, 0.00012345, 99999.5):
        for digits in (1, 3, 6):
            assert ask("general", value, digits) == f"{value:.{digits}g}"


def test_numbers_are_written_as_by_the_reports(ask):
    rng = np.random.default_rng(4)
    values = rng.choice([-1, 1], 60) * 10 ** rng.uniform(-9, 9, 60)
    for digits in (2, 3, 4):
        for value in (*values.tolist(), 0.0, 9.9996, 99996.0, 9999999.0):
            assert ask("significant", value, digits) == significant(value, digits)
    for share in (*rng.uniform(-0.2, 1.2, 60), 0.0, 1e-6, 0.99951, 0.99996, 1.0):
        assert ask("percent", float(share)) == percent(float(share))
