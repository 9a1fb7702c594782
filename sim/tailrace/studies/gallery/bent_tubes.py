"""What a tube adds if it lies straight, bent, or coiled; and the flow that makes it so."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.parts import KINDS
from tailrace.parts.tube.bent.flow import dean_flow
from tailrace.parts.tube.bent.theory import TOLERANCE
from tailrace.parts.tube.part import Tube
from tailrace.studies.gallery.exhibit import ERROR, Exhibit, table_of
from tailrace.studies.gallery.instrument import Asked
from tailrace.wording import say

BORE, LENGTH = 0.12e-3, 0.4
DIFFUSIVITY, VISCOSITY, DENSITY = 1.2e-9, 0.65e-3, 1000.0
LAID = {"straight": np.inf, "bent": 0.3, "coiled": 0.05}
"""m, bend radius."""
FLOWS = np.array([0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3, 0.5, 0.8]) * 1e-6 / 60
SHOWN = 7
"""Which of the flows, m^3/s, the sections are drawn at."""
RINGS, ANGLES = 24, 48
MEANINGS = {
    "laid": ("", "how the tube lies"),
    "bend_radius": ("m", "of its axis; infinite: straight"),
    "flow_rate": ("m^3/s", "through the tube"),
    "dean_number": ("1", "of the flow in the bend"),
    "variance_volume": ("m^6", "that the tube adds, exact cumulant"),
    "distance": ("1", "in the section: from the axis, over half the bore"),
    "angle": ("rad", "in the section: from the outer side of the bend"),
    "axial": ("1", "velocity along the tube over its mean"),
    "stream": ("1", "stream function of the secondary flow over its largest value"),
    ERROR: ("1", "of the cumulants, over their size; of the section none is estimated"),
}


def straight_bent_coiled(asked: Asked) -> Exhibit:
    """Compute the figure; it shows no instrument."""
    pieces = [_line(laid, radius) for laid, radius in LAID.items()]
    pieces += [_section(laid) for laid in ("straight", "coiled")]
    straight, _, coiled = (one["variance_volume"][SHOWN] for one in pieces[:3])
    return Exhibit(
        name="straight-bent-coiled",
        title=say("One tube: straight, bent, coiled"),
        caption=say(
            "Variance that a tube of {bore:g} mm x {length:g} mm adds against the flow, laid "
            "straight, on a radius of {bent:g} mm and coiled on one of {coiled:g} mm "
            "(D = {diffusivity:.3g} × 10⁻⁹ m²/s, {viscosity:g} mPa s; exact cumulants). Two "
            "vortices stir the liquid across a bent tube (white lines, over the speed along it, "
            "at {flow:g} mL/min): coiled, it adds as much as straight at slow flow, but "
            "{less:.2g} times less at {flow:g} mL/min.",
            bore=1e3 * BORE,
            length=1e3 * LENGTH,
            bent=1e3 * LAID["bent"],
            coiled=1e3 * LAID["coiled"],
            diffusivity=1e9 * DIFFUSIVITY,
            viscosity=1e3 * VISCOSITY,
            flow=FLOWS[SHOWN] * 60e6,
            less=straight / coiled,
        ),
        alt=say(
            "Left, three lines of variance against the flow on a logarithmic scale. The tube "
            "adds {added}. Right, two round sections shaded by the speed "
            "along the tube, from 0 at the wall to {fastest:.2g} times the mean in the middle: the "
            "straight one with no other flow; the coiled one with two vortices, one on each side "
            "of the plane of the bend, outward along that plane and back along the wall.",
            added="; ".join(
                _added(pieces[:3], at) for at in sorted({0, FLOWS.size // 3, SHOWN, FLOWS.size - 1})
            ),
            fastest=max(one["axial"].max() for one in pieces[3:]),
        ),
        table=table_of(MEANINGS, pieces),
    )


def _added(lines: Sequence[dict[str, Any]], at: int) -> str:
    """What each tube adds at one of the flows, in words."""
    added = (one["variance_volume"][at] * 1e18 for one in lines)
    values = dict(zip(LAID, added, strict=True))
    text = "{straight:.2f} straight, {bent:.2f} bent and {coiled:.2f} µL² coiled at {flow:g} mL/min"
    return say(text, flow=round(FLOWS[at] * 60e6, 6), **values)


def _line(laid: str, radius: float) -> dict[str, Any]:
    stream = Stream(
        flow_rate=FLOWS,
        diffusivity=DIFFUSIVITY,
        viscosity=VISCOSITY,
        density=DENSITY,
    ).over(FLOWS.size)
    tube = Tube(name=laid, bore=BORE, length=LENGTH, bend_radius=radius)
    cumulants = KINDS[tube.kind].theory(tube, stream)
    return _piece(laid) | {
        "flow_rate": FLOWS,
        "dean_number": np.broadcast_to(tube.dean_number(stream, radius), FLOWS.shape),
        "variance_volume": cumulants.variance * FLOWS**2,
        ERROR: TOLERANCE[0],
    }


def _section(laid: str) -> dict[str, Any]:
    """Both flows over half the section; the other half mirrors it."""
    tube = Tube(name=laid, bore=BORE, length=LENGTH, bend_radius=LAID[laid])
    stream = Stream(
        flow_rate=FLOWS[SHOWN], diffusivity=DIFFUSIVITY, viscosity=VISCOSITY, density=DENSITY
    )
    dean = float(tube.dean_number(stream, LAID[laid]))
    flow = dean_flow(dean)
    r, angle = np.linspace(0.0, 1.0, RINGS + 1), np.linspace(0.0, np.pi, ANGLES + 1)
    psi = flow.stream_function(r, angle)
    return _piece(laid) | {
        "flow_rate": FLOWS[SHOWN],
        "dean_number": dean,
        "distance": np.repeat(r, angle.size),
        "angle": np.tile(angle, r.size),
        "axial": flow.axial_velocity(r, angle).ravel(),
        "stream": (psi / np.max(psi) * (dean > 0)).ravel(),
    }


def _piece(laid: str) -> dict[str, Any]:
    return dict.fromkeys(MEANINGS, np.nan) | {"laid": say(laid), "bend_radius": LAID[laid]}
