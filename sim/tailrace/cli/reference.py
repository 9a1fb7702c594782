"""``tailrace parts``, ``eluent``, ``schema``: what tailrace knows of parts, liquids and files."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from tailrace.errors import QuantityError

if TYPE_CHECKING:
    from tailrace.parts.usual import Usual


@click.command()
@click.argument("names", nargs=-1)
def parts(names: tuple[str, ...]) -> None:
    """List the parts that instruments have, with what is usual of them; or write NAMES as tables.

    In the order of the flow: tailrace parts valve capillary union "guard column" column capillary
    cell >> scenario.toml
    """
    from tailrace.parts.usual import USUAL
    from tailrace.scenario.toml import as_toml

    if names:
        click.echo(_tables(names))
        return
    rows = [("part of an instrument", "part =", "usual (common practice, no source)")]
    for one in USUAL:
        usual = ", ".join(one.shown(key) for key in one.ranges)
        rows.append((one.name, f'"{one.part}"', usual))
        more = [one.remark, *as_toml(dict(one.written)).splitlines()]
        if one.also:
            more.append(f"also called: {', '.join(one.also)}")
        rows += [("", "", remark) for remark in more if remark]
    widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
    for row in rows:
        click.echo(f"{row[0]:<{widths[0]}}  {row[1]:<{widths[1]}}  {row[2]}")


def _tables(names: Sequence[str]) -> str:
    """Parts with typical values, as tables of ``[[path]]``; of one name the second is numbered."""
    from tailrace.parts.usual import KIND_OF_KEY
    from tailrace.scenario.toml import as_toml

    path, texts = list[dict[str, Any]](), list[str]()
    for name in names:
        row = _row(name)
        values = {
            key: typical if key in KIND_OF_KEY else json.loads(typical)
            for key, (_, typical, _) in row.ranges.items()
        }
        label, number = name.strip().lower(), 1
        while any(one["name"] == (label if number == 1 else f"{label} {number}") for one in path):
            number += 1
        label = label if number == 1 else f"{label} {number}"
        path.append({"name": label, "part": row.part, **values, **row.written})
        remark = f"# {row.remark}\n" if row.remark else ""
        texts.append(remark + as_toml({"path": path[-1:]}).strip())
    return "\n\n".join(texts)


def _row(name: str) -> Usual:
    """What is usual of a part, by any of its names."""
    from tailrace.parts.usual import USUAL, row_meant
    from tailrace.quantities.parse import shortened
    from tailrace.scenario.problems import nearest

    row = row_meant(name)
    if not isinstance(row, str):
        return row
    known = [one.name for one in USUAL]
    near = nearest(name, known)
    advice = row or (f'"{near}"' if near else f"one of these: {', '.join(known)}")
    raise click.UsageError(f"expected a part, found {shortened(name)}; write {advice}")


EXAMPLE = '"water 40, acetonitrile 60" or "40 % water / 60 % acetonitrile"'
LIQUID = re.compile(r"[A-Za-z][A-Za-z0-9]*")
SHARE = re.compile(r"(?<![A-Za-z0-9.])[0-9]*\.?[0-9]+")
SAID_BESIDE = {"v", "vol", "percent", "and", "with", "in", "by", "volume"}
SUM_TOLERANCE = 1e-4


@click.command()
@click.argument("mixture")
@click.option("--temperature", default="25 degC", show_default=True, metavar="TEXT")
@click.option("--pressure", metavar="TEXT", help="For example '400 bar'.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object (SI).")
def eluent(mixture: str, temperature: str, pressure: str | None, as_json: bool) -> None:
    """Print viscosity and density of MIXTURE, percent by volume before mixing.

    For example: tailrace eluent "water 40, acetonitrile 60" --temperature "35 degC"
    """
    from tailrace.report.eluent import as_numbers, as_text, eluent_properties

    composition = volume_fractions(mixture)
    kelvin = _quantity("--temperature", temperature, "temperature")
    pascal = None if pressure is None else _quantity("--pressure", pressure, "pressure")
    properties = eluent_properties(composition, kelvin, pascal)
    if as_json:
        answer = as_numbers(composition, kelvin, pascal, properties)
        click.echo(json.dumps(answer, indent=2, allow_nan=False))
    else:
        click.echo(as_text(composition, kelvin, properties))


def volume_fractions(mixture: str) -> dict[str, float]:
    """Volume fractions (1) of a mixture, percent by volume: names and numbers in any order, such as
    ``water 40, acetonitrile 60`` or ``ACN/water 60:40``, the first number for the first name.

    Raises QuantityError: not such a text, an unknown liquid, one named twice, or a sum other than
    100.
    """
    from tailrace.eluent.liquids import LIQUIDS
    from tailrace.scenario.problems import AS_WATER, BUFFER, key_meant, liquid_advice

    words = [one for one in LIQUID.findall(mixture) if one.lower() not in SAID_BESIDE]
    found = [float(one) for one in SHARE.findall(mixture)]
    if len(words) == 1 and not found:
        found = [100.0]
    shares: dict[str, float] = {}
    for word in words:
        name = word.lower() if word.lower() in LIQUIDS else key_meant(word, LIQUIDS)
        if not name or name in shares:
            what = "twice" if name else "an unknown liquid"
            advice = AS_WATER if BUFFER.search(mixture.lower()) else liquid_advice(word)
            raise QuantityError(
                f"MIXTURE: expected each of {', '.join(LIQUIDS)} at most once, found "
                f"{word[:60]} ({what}); {advice or 'correct the name'}"
            )
        shares[name] = 0.0
    if len(found) != len(words) or not words:
        raise QuantityError(
            f"MIXTURE: expected liquids with percent by volume such as {EXAMPLE}, found "
            f'"{mixture.strip()[:60]}"; write a name and a number for each liquid'
        )
    shares = {name: share / 100 for name, share in zip(shares, found, strict=True)}
    total = sum(shares.values())
    if abs(100 * total - 1) <= SUM_TOLERANCE:
        return {name: 100 * share for name, share in shares.items()}
    if abs(total - 1) > SUM_TOLERANCE:
        raise QuantityError(
            f"MIXTURE: expected percentages that add up to 100, found a sum of {100 * total:.6g}; "
            "correct the numbers"
        )
    return shares


def _quantity(option: str, text: str, kind: str) -> float:
    from tailrace.quantities.parse import parse

    try:
        return float(parse(text, kind))
    except QuantityError as error:
        raise QuantityError(f"{option}: {error}") from None


@click.command()
def schema() -> None:
    """Print the JSON Schema (2020-12) of scenario files, for editors that complete and check."""
    from tailrace.scenario.model import scenario_schema

    click.echo(json.dumps(scenario_schema(), indent=2, ensure_ascii=False))
