"""``tailrace parts``, ``eluent``, ``schema``: what tailrace knows of parts, liquids and files."""

import json
import re
from collections.abc import Sequence

import click

from tailrace.errors import QuantityError


@click.command()
@click.argument("names", nargs=-1)
def parts(names: tuple[str, ...]) -> None:
    """List the parts that instruments have, with what is usual of them; or write NAMES as tables.

    In the order of the flow: tailrace parts valve capillary union "guard column" column capillary
    cell >> scenario.toml
    """
    from tailrace.parts.usual import USUAL

    if names:
        click.echo(_tables(names))
        return
    rows = [("part of an instrument", "part =", "usual (common practice, no source)")]
    for one in USUAL:
        usual = ", ".join(one.shown(key) for key in one.ranges)
        rows.append((one.name, f'"{one.part}"', usual))
        if one.remark:
            rows.append(("", "", one.remark))
    widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
    for row in rows:
        click.echo(f"{row[0]:<{widths[0]}}  {row[1]:<{widths[1]}}  {row[2]}")


def _tables(names: Sequence[str]) -> str:
    """Parts with their typical values, as ``[[path]]`` holds them; of like ones the second gets a
    number."""
    from tailrace.parts.usual import KIND_OF_KEY, USUAL
    from tailrace.scenario.problems import unknown
    from tailrace.scenario.toml import as_toml

    known, path = {one.name: one for one in USUAL}, []
    for at, name in enumerate(names):
        row = known.get(name.lower())
        if row is None:
            raise click.UsageError(unknown("part", name, list(known)))
        values = {
            key: typical if key in KIND_OF_KEY else float(typical)
            for key, (_, typical, _) in row.ranges.items()
        }
        flag = {"heater": True} if row.remark == "heater = true" else {}
        number = [one.lower() for one in names[: at + 1]].count(row.name)
        label = row.name if number == 1 else f"{row.name} {number}"
        path.append({"name": label, "part": row.part, **values, **flag})
    return as_toml({"path": path}).rstrip()


EXAMPLE = '"water 40, acetonitrile 60"'
SHARE = re.compile(r"\s*([A-Za-z]+)\s+([0-9]*\.?[0-9]+)\s*%?\s*")
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
    """Volume fractions (1) of a mixture such as ``water 40, acetonitrile 60``, percent by volume.

    Raises QuantityError: not such a text, an unknown liquid, one named twice, or a sum other than
    100.
    """
    from tailrace.eluent.liquids import LIQUIDS

    shares: dict[str, float] = {}
    for part in mixture.split(","):
        match = SHARE.fullmatch(part)
        if match is None:
            raise QuantityError(
                f'MIXTURE: expected liquids with percent by volume such as {EXAMPLE}, found "'
                f'{part.strip()[:60]}"; write a name, a space and a number'
            )
        name = match[1].lower()
        if name not in LIQUIDS or name in shares:
            found = "twice" if name in shares else "an unknown liquid"
            raise QuantityError(
                f"MIXTURE: expected each of {', '.join(LIQUIDS)} at most once, found "
                f"{name[:60]} ({found}); correct the name"
            )
        shares[name] = float(match[2]) / 100
    total = sum(shares.values())
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
