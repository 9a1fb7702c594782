"""Numbers of samples as people write them."""

import click
import pytest

from tailrace.cli.studying import Count


@pytest.mark.parametrize(("text", "number"), [("1e6", 10**6), ("2000", 2000), ("5.0", 5)])
def test_whole_numbers(text, number):
    assert Count().convert(text, None, None) == number


@pytest.mark.parametrize("text", ["1.5", "many", "1e400", "nan", ""])
def test_others_are_refused_in_a_sentence(text):
    with pytest.raises(click.BadParameter, match="expected a whole number such as 2000 or 1e6"):
        Count().convert(text, None, None)
