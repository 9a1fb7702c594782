"""How close the tube's kernel comes to the machine: against C, multiply-adds and copies.

The kernel is measured on one block of lanes and one thread, in nanoseconds per unknown and stage
(unknown: one node of one axial step in one lane). The C version is the same loop, compiled here for
this processor; both must give the same outlet.

    python benchmarks/kernel.py --nodes 49 --steps 48
"""

import timing

# isort: split
import argparse
import ctypes
import inspect
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np

from tailrace.parts.tube import march

MOST_NANOSECONDS, MOST_OVER_C = 1.5, 1.3
MULTIPLY_ADDS, BYTES = 8.5, 48
"""Of one unknown and stage: 2 or 3 for what enters, 4 on the way down, 2 on the way back; what goes
between the second-level cache and the registers: three factors, and the state twice read and once
written."""
DOUBLES = np.ctypeslib.ndpointer(np.float64, flags="C_CONTIGUOUS")
FLAGS = ("-O3", "-march=native", "-ffast-math", "-shared", "-fPIC")

SOURCE = r"""
typedef double row __attribute__((vector_size(8 * LANES)));

static inline void stage(int nodes, int stride, const row *u, const double *first, const row *v,
                         const double *second, row *y, row *state, row drive, const row *lower,
                         const row *inverse, const row *upper, const double *hold,
                         const double (*weighting)[3])
{
    row before = {0}, z = {0}, after;
    row here = first[0] * u[0] + second[0] * v[0] + drive * state[0];
    for (int i = 0; i < nodes; i++) {
        if (i + 1 < nodes)
            after = first[i + 1] * u[i + 1] + second[i + 1] * v[i + 1]
                + drive * state[(i + 1) * stride];
        else
            after = (row){0};
        const double *w = weighting[i];
        z = (w[0] * before + here + w[2] * after) * inverse[i * stride] + lower[i * stride] * z;
        y[i] = z;
        before = here;
        here = after;
    }
    state[(nodes - 1) * stride] = hold[nodes - 1] * z - state[(nodes - 1) * stride];
    for (int i = nodes - 2; i >= 0; i--) {
        z = y[i] + upper[i * stride] * z;
        y[i] = z;
        state[i * stride] = hold[i] * z - state[i * stride];
    }
}

void kernel(int times, int steps, int nodes, int stride, const row *inlet, row *outlet,
            row *state, row *work, row *last, const double *advance, const double *nothing,
            const double *first, const double *second, const double *hold,
            const double (*weighting)[3], const double *flux_weights, const row *lower,
            const row *inverse, const row *upper, const row *drive)
{
    row *u = work, *y = work + nodes;
    for (int t = 0; t < times; t++) {
        for (int i = 0; i < nodes; i++)
            u[i] = inlet[t];
        for (int m = steps - 1; m >= 0; m--) {
            stage(nodes, stride, u, advance, u, nothing, y, state + m, drive[m], lower + m,
                  inverse + m, upper + m, hold, weighting);
            stage(nodes, stride, u, first, y, second, u, state + nodes * stride + m, drive[m],
                  lower + m, inverse + m, upper + m, hold, weighting);
        }
        row mean = {0};
        for (int i = 0; i < nodes; i++)
            mean += flux_weights[i] * u[i];
        outlet[t] = 2 * mean - last[0];
        last[0] = outlet[t];
    }
}

/* eight independent chains of whole rows: as many multiply-adds as the processor can do */
double multiply_adds(long rounds, double factor)
{
    row sum[8];
    for (int i = 0; i < 8; i++) sum[i] = (row){0} + i;
    for (long n = 0; n < rounds; n++)
        for (int i = 0; i < 8; i++) sum[i] = sum[i] * factor + 1.0;
    double all = 0.0;
    for (int i = 0; i < 8; i++)
        for (int k = 0; k < LANES; k++) all += sum[i][k];
    return all;
}

void copies(long rounds, long rows, const row *from, row *to)
{
    for (long n = 0; n < rounds; n++) {
        for (long i = 0; i < rows; i++) to[i] = from[i];
        __asm__ volatile("" : : "r"(to) : "memory");
    }
}
"""


def aligned(array):
    """A copy that begins on a whole row, as C's rows must. Array of the same shape."""
    whole = np.zeros(np.size(array) + 64)
    first = (-whole.ctypes.data // 8) % 64
    copy = whole[first : first + np.size(array)].reshape(np.shape(array))
    copy[...] = array
    return copy


def copied(argument):
    """An argument as the kernel gets it, arrays on whole rows; a number is itself."""
    if isinstance(argument, tuple):
        return type(argument)(*map(copied, argument))
    return aligned(argument) if isinstance(argument, np.ndarray) else argument


def compiled(folder, lanes):
    """The C functions, built for this processor. ctypes.CDLL."""
    source, library = Path(folder) / "kernel.c", Path(folder) / "kernel.so"
    source.write_text(SOURCE)
    subprocess.run(["cc", *FLAGS, f"-DLANES={lanes}", "-o", library, source], check=True)
    built = ctypes.CDLL(str(library))
    built.kernel.argtypes = [ctypes.c_int] * 4 + [DOUBLES] * 16
    built.kernel.restype = None
    built.multiply_adds.argtypes = [ctypes.c_long, ctypes.c_double]
    built.multiply_adds.restype = ctypes.c_double
    built.copies.argtypes = [ctypes.c_long, ctypes.c_long, DOUBLES, DOUBLES]
    built.copies.restype = None
    return built


def product_call(nodes, steps):
    """What the product hands to its kernel for one block of lanes, by the kernel's own names.

    This is the one place that knows the march's insides: its steps are called as the march calls
    them, with a kernel that keeps its arguments.

    Parameters
    ----------
    nodes, steps : int
        Radial nodes and axial steps.

    Returns
    -------
    call : callable
        Runs the product's kernel once more on copies of these arguments.
    after, before : dict of str to array
        Those copies, and the arguments as they were before the first call.
    """
    fourier = np.linspace(0.05, 0.2, march.BLOCK)
    width = 0.05 * fourier
    scheme = march.radial_scheme(nodes)
    layout = march.Layout(steps, march.BLOCK)
    lengths = march.axial_steps(fourier, width, steps)
    factors = march._factored(scheme, layout, lengths, width / 10)
    times = np.arange(-50, 51)[:, None] / 10 * np.ones(march.BLOCK)
    kernel, first = march._kernel, []

    def keeping(*arguments):
        if not first:
            first.extend(copied(a) for a in arguments)
        return kernel(*arguments)

    march._kernel = keeping
    try:
        march._streamed(scheme, layout, factors, np.exp(-(times**2) / 2), 1e-6)
    finally:
        march._kernel = kernel
    names = list(inspect.signature(kernel.py_func).parameters)
    first[names.index("truncation")] = 0.0  # all time steps, however empty
    arguments = [copied(a) for a in first]
    return (lambda: kernel(*arguments)), by_name(names, arguments), by_name(names, first)


def by_name(names, arguments):
    """Arguments of the kernel, the members of its groups among them. dict."""
    found = dict(zip(names, arguments, strict=True))
    for group in arguments:
        found |= group._asdict() if isinstance(group, tuple) else {}
    return found


def c_call(built, named, nodes, steps):
    """A call of the C kernel on the same numbers, and the outlet that it writes."""
    lanes = march.BLOCK
    times = len(named["inlet"])
    outlet = aligned(np.zeros((times, lanes)))
    state, last = aligned(named["state"]), aligned(np.zeros(lanes))
    work, nothing = aligned(np.zeros((2 * nodes, lanes))), np.zeros(nodes)
    given = ("first", "second", "hold", "weighting", "flux_weights")
    given += ("lower", "inverse", "upper", "drive")
    advance, *numbers = (aligned(named[name]) for name in ("advance", *given))
    inlet, stride = aligned(named["inlet"]), named["drive"].size // lanes

    def call():
        built.kernel(
            times, steps, nodes, stride, inlet, outlet, state, work, last, advance, nothing,
            *numbers
        )  # fmt: skip

    return call, outlet


def alternating(calls, rounds):
    """Shortest time of each call, one after the other so that all meet the same neighbours."""
    shortest = [np.inf] * len(calls)
    for _ in range(rounds):
        for at, call in enumerate(calls):
            start = time.perf_counter()
            call()
            shortest[at] = min(shortest[at], time.perf_counter() - start)
    return shortest


def machine_rates(built, count):
    """Time of a multiply-add, and of one byte copied by C in cache and by numpy in memory. ns."""
    rounds, copies, lanes = 200_000, 50, march.BLOCK
    near, far = aligned(np.ones(count)), np.ones(8_000_000)
    near_to, far_to = aligned(near), np.ones_like(far)
    calls = (
        lambda: built.multiply_adds(rounds, 0.999),
        lambda: built.copies(copies, count // lanes, near, near_to),
        lambda: np.copyto(far_to, far),
    )
    added, copied_near, copied_far = alternating(calls, 15)
    return (
        1e9 * added / (rounds * 8 * lanes),
        1e9 * copied_near / (16 * copies * count),
        1e9 * copied_far / (16 * far.size),
    )


def main():
    """Read the options, run, print."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--nodes", type=int, default=49)
    options.add_argument("--steps", type=int, default=48)
    options.add_argument("--rounds", type=int, default=25)
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    ours, after, named = product_call(given.nodes, given.steps)
    ours()
    with tempfile.TemporaryDirectory() as folder:
        built = compiled(folder, march.BLOCK)
        theirs, outlet = c_call(built, named, given.nodes, given.steps)
        theirs()
        apart = np.abs(outlet - after["outlet"]).max() / np.abs(outlet).max()
        times = alternating((ours, theirs), given.rounds)
        multiply_add, near, far = machine_rates(built, named["lower"].size)
    unknowns = len(outlet) * given.steps * 2 * given.nodes * march.BLOCK
    mine, its = (1e9 * spent / unknowns for spent in times)
    named_times = (
        ("the product's kernel", mine),
        ("the same loop in C", its),
        (f"{MULTIPLY_ADDS} multiply-adds", MULTIPLY_ADDS * multiply_add),
        (f"{BYTES} bytes moved in cache", BYTES * near),
        (f"{BYTES} bytes moved in memory", BYTES * far),
    )
    rows = [
        {"what": name, "ns": value, "product over it": mine / value} for name, value in named_times
    ]
    # either bar is enough: an old processor misses the first, a good compiler the second
    if mine <= MOST_NANOSECONDS:
        name = "ns per unknown and stage"
        bar = timing.Bar(name=name, measured=mine, bound=MOST_NANOSECONDS, at_least=False)
    else:
        name = "product over C"
        bar = timing.Bar(name=name, measured=mine / its, bound=MOST_OVER_C, at_least=False)
    same = timing.Bar(name="product apart from C", measured=apart, bound=1e-10, at_least=False)
    notes = [
        f"{given.nodes} nodes, {given.steps} axial steps, {march.BLOCK} lanes, one thread; ns per "
        "unknown and stage. A copy writes as much as it reads; the kernel mostly reads.",
    ]
    timing.finish("The tube's kernel", rows, [bar, same], given.json, notes)


if __name__ == "__main__":
    main()
