"""``tailrace schema``: the JSON Schema of scenario files."""

import json

import click


@click.command()
def schema() -> None:
    """Print the JSON Schema (2020-12) of scenario files, for editors that complete and check."""
    from tailrace.scenario.model import scenario_schema

    click.echo(json.dumps(scenario_schema(), indent=2, ensure_ascii=False))
