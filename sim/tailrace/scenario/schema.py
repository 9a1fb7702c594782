"""The JSON Schema of scenario files."""

from pydantic.json_schema import GenerateJsonSchema

from tailrace.scenario.model import Document


class _WithoutNull(GenerateJsonSchema):
    # TOML has no null: what may be left out is said by ``required`` alone.
    def nullable_schema(self, schema):
        """Describe what a field holds when it is there."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema):
        """Give the default, unless it stands for "left out"."""
        if schema.get("default", ...) is None:
            return self.generate_inner(schema["schema"])
        return super().default_schema(schema)


def scenario_schema() -> dict:
    """Return the schema (JSON Schema 2020-12) of what a scenario file may hold.

    Rules that tie several keys together are not in it; ``tailrace.load`` checks them.
    """
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return dialect | Document.model_json_schema(schema_generator=_WithoutNull)
