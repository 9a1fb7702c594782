"""Write the table of transfer functions that ``tailrace.parts.tube.spectrum`` reads."""

from pathlib import Path

import numpy as np

from tailrace.parts.tube import spectrum

if __name__ == "__main__":
    path = Path(spectrum.__file__).with_name("spectrum.npz")
    coefficients = spectrum.tabulate().astype(np.float32)
    np.savez_compressed(path, version=spectrum.VERSION, coefficients=coefficients)
    print(f"{path.name}: {path.stat().st_size} bytes")
