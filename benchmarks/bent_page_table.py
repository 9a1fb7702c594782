"""Write the table of bent tubes as pages bring it along: ``web/bends.npz``, from the program's own.

    python benchmarks/bent_page_table.py

A few seconds; ``web/bend_packing.py`` says how.
"""

from pathlib import Path

import numpy as np

from tailrace.web import bends
from tailrace.web.bend_packing import everything, packed

if __name__ == "__main__":
    path = Path(bends.__file__).with_name("bends.npz")
    np.savez_compressed(path, allow_pickle=False, **packed(everything()))
    print(f"{path.name}: {path.stat().st_size} bytes; every number in steps of {bends.STEP:g}")
