"""Objects as a key of what is made of them."""

import operator
from typing import Any


class ByIdentity:
    """Equal to one of these very objects alone.

    A study builds a journey thousands of times with one number changed; tables that stay are the
    same objects, and so are the parts that are made of them.
    """

    def __init__(self, *these: Any) -> None:
        self.these = these

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, ByIdentity) or len(self.these) != len(other.these):
            return False
        return all(map(operator.is_, self.these, other.these))

    def __hash__(self) -> int:
        return hash(tuple(map(id, self.these)))
