"""Write the table of what stands in for a bend, ``tailrace.parts.tube.bent`` reads it: seconds."""

from pathlib import Path

import numpy as np

from tailrace.parts.tube.bent import theory

if __name__ == "__main__":
    nodes = range(theory.FIRST_NODE, theory.LAST_NODE + 1)
    faster = np.array([theory.solved_at(node) for node in nodes], dtype=np.float32)
    path = Path(theory.__file__).with_name("stirring.npz")
    np.savez_compressed(path, faster=faster)
    print(f"{path.name}: {path.stat().st_size} bytes")
