"""Write the table of flows in bent tubes that ``tailrace.parts.tube.bent.flow`` reads."""

from pathlib import Path

import numpy as np

from tailrace.parts.tube.bent import flow

if __name__ == "__main__":
    path = Path(flow.__file__).with_name("flow.npz")
    np.savez_compressed(path, series=flow.tabulate())
    print(f"{path.name}: {path.stat().st_size} bytes")
