"""Scenario files that several tests write down."""

TUBE = """
title = "A tube"

[method]
flow = "1.0 mL/min"
eluent = { viscosity = "1.0 mPa*s" }

[[solutes]]
name = "tracer"
diffusivity = "1.0e-9 m^2/s"

[injection]
shape = "gaussian"
sigma = "0.2 s"

[[path]]
name = "tube"
part = "tube"
bore = "0.12 mm"
length = "500 mm"
"""
"""Quick to travel, however often."""
