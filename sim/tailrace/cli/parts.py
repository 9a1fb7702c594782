"""``tailrace parts``: which parts do instruments have, and how are they written?"""

import click


@click.command()
@click.argument("name", required=False)
def parts(name: str | None) -> None:
    """List the parts that instruments have, with what is usual of them; or write NAME as a table.

    For example: tailrace parts "needle seat" >> scenario.toml
    """
    from tailrace.parts.usual import USUAL

    if name is not None:
        click.echo(_table(name))
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


def _table(name: str) -> str:
    """A part with its typical values, as ``[[path]]`` holds it."""
    from tailrace.parts.usual import KIND_OF_KEY, USUAL
    from tailrace.scenario.problems import unknown
    from tailrace.scenario.toml import as_toml

    row = next((one for one in USUAL if one.name == name.lower()), None)
    if row is None:
        raise click.UsageError(unknown("part", name, [one.name for one in USUAL]))
    values = {
        key: typical if key in KIND_OF_KEY else float(typical)
        for key, (_, typical, _) in row.ranges.items()
    }
    flag = {"heater": True} if row.remark == "heater = true" else {}
    return as_toml({"path": [{"name": row.name, "part": row.part, **values, **flag}]}).rstrip()
