"""Numbers as text that JSON can hold as it is: ``engine/packed.js`` reads it."""

from typing import Any

import numpy as np

from tailrace.quantities.arrays import FloatArray, IntArray

SIGNS = "".join(chr(code) for code in range(33, 127) if chr(code) not in '"\\<')
"""Characters of one byte; two of them hold BITS bits."""
BITS = 13
DIFFERENCES, HALF = 5, len(SIGNS) // 2
"""Of smooth rows these are small numbers; of SIGNS, how many are digits that end one."""


def as_text(packed: bytes | bytearray | IntArray) -> str:
    """Bytes as text, the highest bit first; zeros fill up the last two characters."""
    bits = np.unpackbits(np.frombuffer(bytes(packed), dtype=np.uint8))
    rows = np.pad(bits, (0, -bits.size % BITS)).reshape(-1, BITS)
    pairs = np.stack(np.divmod(rows @ (1 << np.arange(BITS)[::-1]), len(SIGNS)), axis=1)
    return "".join(SIGNS[one] for one in pairs.ravel().tolist())


def rolled(values: FloatArray, quantum: float) -> dict[str, Any]:
    """A smooth (rows, columns, parts) array in multiples of a quantum, by its fifth differences.

    ``starts``: the first five columns; ``steps``: those of the others, one or more characters each,
    the lowest digit first, which a page deflates: a character of the upper half says that more
    follow. The sign is the lowest bit of all.
    """
    whole = np.rint(values / quantum).astype(np.int64)
    steps = np.diff(whole, DIFFERENCES, axis=1).ravel()
    text = []
    for step in (2 * np.abs(steps) - (steps < 0)).tolist():
        while step >= HALF:
            text.append(SIGNS[HALF + step % HALF])
            step //= HALF
        text.append(SIGNS[step])
    starts = whole[:, :DIFFERENCES].ravel().tolist()
    return {"quantum": quantum, "starts": starts, "steps": "".join(text)}
