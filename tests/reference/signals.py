"""Invented signals with a known truth, written in many layouts, and spoilt in many ways."""

import numpy as np
from scipy.io import netcdf_file
from scipy.stats import exponnorm

from tailrace.measurements.noise import Noise
from tailrace.measurements.signal import Layout, Signal

LAYOUT = Layout(form="made", times_from="rows", time_unit="s", time_unit_from="file")


def peak(times, deviation=1.0, tau=1.0, centre=18.3, height=100.0):
    """An exponentially modified Gaussian, or a Gaussian without a tau."""
    if not tau:
        return height * np.exp(-(((times - centre) / deviation) ** 2) / 2)
    result = exponnorm(tau / deviation, loc=centre, scale=deviation)
    top = result.pdf(np.linspace(centre - deviation, centre + 3 * tau, 20_000)).max()
    return height * result.pdf(times) / top


def noisy(signal_to_noise, seed, *, step=0.1, length=40.0, correlation=0.0, drift=0.0, **shape):
    """A signal with one peak; the noise is over the height."""
    times = np.arange(0, length, step)
    noise = Noise(deviation=100 / signal_to_noise, correlation=correlation, peak_to_peak=0.0)
    drawn = noise.drawn((1, times.size), np.random.default_rng(seed))[0]
    values = peak(times, **shape) + drawn + drift * times
    return as_signal(times, values)


def as_signal(times, values, **more):
    return Signal(
        name="made", sha256="", layout=LAYOUT, times=times, values=values, signal_unit="mAU", **more
    )


def as_text(times, values, *, head="time (s),signal (mAU)", delimiter=",", decimal=".", digits=6):
    """Rows of times and values below a header."""
    rows = [
        f"{time:.{digits}f}{delimiter}{value:.{digits}f}".replace(".", decimal)
        if decimal != "."
        else f"{time:.{digits}f}{delimiter}{value:.{digits}f}"
        for time, value in zip(times, values, strict=True)
    ]
    return "\n".join([head, *rows, ""] if head else rows)


def as_e1947(path, values, *, times=None, **scalars):
    """A chromatogram after ASTM E1947; scalars by their names, None to leave one out."""
    text = {"actual_sampling_interval": 0.1, "actual_delay_time": 0.0} | scalars
    unit = text.pop("retention_unit", "seconds")
    with netcdf_file(path, "w") as file:
        file.createDimension("point_number", len(values))
        file.detector_unit, file.retention_unit = "mAU", unit
        result = file.createVariable("ordinate_values", "f", ("point_number",))
        result[:] = values
        result.uniform_sampling_flag = "Y" if times is None else "N"
        if times is not None:
            file.createVariable("raw_data_retention", "f", ("point_number",))[:] = times
        for name, value in text.items():
            if value is not None:
                file.createVariable(name, "d", ()).data[...] = value
    return path.read_bytes()


def mutated(content, random):
    """A file spoilt in one to three ways: bytes changed, cut, doubled, moved, put in."""
    content = bytearray(content)
    # other digits: still numbers, but not these
    digits = [at for at, one in enumerate(content) if 48 <= one < 58]
    for at in random.choice(digits, random.integers(0, 40)):
        content[at] = 48 + random.integers(0, 10)
    for _ in range(random.integers(0, 4)):
        if not content:
            break
        at, other = sorted(random.integers(0, len(content), 2).tolist())
        way = random.integers(0, 7)
        if way == 0:
            for place in random.integers(0, len(content), random.integers(1, 30)):
                content[place] = random.integers(0, 256)
        elif way == 1:
            del content[at:]
        elif way == 2:
            del content[at:other]
        elif way == 3:
            content[at:at] = content[at : min(other, at + 5000)]
        elif way == 4:
            words = [
                b"nan",
                b"-9999",
                b"1e400",
                b",",
                b";",
                b"\x00",
                b"\xff\xfe",
                b"1e-320",
                b"inf",
            ]
            for place in random.integers(0, len(content), random.integers(1, 20)):
                content[place:place] = words[random.integers(0, len(words))]
        elif way == 5:
            lines = bytes(content).split(b"\n")
            random.shuffle(lines)
            content = bytearray(b"\n".join(lines))
        else:
            old, new = [(b".", b","), (b",", b";"), (b"\n", b"\r"), (b"0", b""), (b"-", b"+")][
                random.integers(0, 5)
            ]
            content = bytearray(bytes(content).replace(old, new))
    return bytes(content)
