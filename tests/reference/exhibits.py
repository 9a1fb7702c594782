"""Exhibits of the gallery for tests, with fewer of the costly points."""

from functools import cache, partial
from pathlib import Path
from tempfile import TemporaryDirectory

import tailrace
from tailrace.studies.gallery import ENTRIES, compute, plates, tubes

NAMES = tuple(ENTRIES)
FEWER = {
    "plume": (tubes, "plume_of", partial(tubes.plume_of, rings=8, sections=32)),
    "fourier-number": (tubes, "SIMULATED", (0.06, 0.1, 0.3, 1.0, 10.0)),
    "retention": (plates, "RETENTION_FACTORS", (0.5, 3.0, 20.0)),
    "outlet-signals": (tubes, "FOURIER_NUMBERS", (0.06, 0.1, 0.2, 0.3, 1.0, 3.0, 10.0)),
}
SMOOTH = """\
title = "A smooth band in a long tube"
[method]
flow = "0.5 mL/min"
viscosity = "1 mPa*s"
[[solutes]]
name = "tracer"
diffusivity = "1e-9 m^2/s"
[injection]
shape = "gaussian"
sigma = "0.5 s"
[[path]]
name = "tube"
part = "tube"
bore = "0.25 mm"
length = "1 m"
"""
"""For the plume, which takes long where the band that enters has edges."""


@cache
def exhibit_of(name):
    """One exhibit, computed once in a test run."""
    if name not in FEWER:
        return compute(name)
    module, constant, fewer = FEWER[name]
    whole = getattr(module, constant)
    setattr(module, constant, fewer)
    try:
        return compute(name, _smooth() if name == "plume" else None)
    finally:
        setattr(module, constant, whole)


def _smooth():
    with TemporaryDirectory() as folder:
        path = Path(folder) / "smooth.toml"
        path.write_text(SMOOTH, encoding="utf-8")
        return tailrace.load(path)
