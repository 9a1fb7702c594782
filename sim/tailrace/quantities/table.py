"""What all tables of a scenario file have in common."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class Table(BaseModel):
    """A table of the file. No key is ignored and no value is converted behind the user's back."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False, protected_namespaces=()
    )


Name = Annotated[
    str,
    Field(
        min_length=1,
        max_length=80,
        pattern=r"^[^\s\x00-\x1f\x7f]([^\x00-\x1f\x7f]*[^\s\x00-\x1f\x7f])?$",
        examples=["needle seat"],
    ),
]
