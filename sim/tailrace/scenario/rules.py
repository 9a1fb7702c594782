"""What ties the keys and tables of a scenario together.

The rules read the file as it was written, not the validated model: so they can speak beside the
errors of single values, and one run names everything that is to be mended.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from tailrace.errors import unprintable
from tailrace.parts import part_class
from tailrace.parts.table import PathTable, flow_of, is_number
from tailrace.quantities.kinds import show
from tailrace.scenario.model import LIQUID_NAMES, PART_TABLES, SHAPE_TABLES, LoopTable, SampleTable
from tailrace.scenario.problems import Place, Problem, Tables, unknown

RESERVED = ("injection", "detector", "method")
"""Names by which results and changes call what is not a part of the path."""

DIFFUSION_KEYS = ("diffusivity", "molar_volume", "formula")
"""How fast a solute diffuses: exactly one of them is given."""
RETENTION_KEYS = ("retention_factor", "retention_time")
"""How a solute is retained where there is no gradient: one of them is given."""
SAMPLE_FACTOR, STRONG = "sample_retention_factor", "strong in [injection]"
"""How a solvent of the sample's own is given: k in it, or its composition."""
FOUND_INSTEAD = {
    0: 'neither; add formula = "C8H10N4O2", or molar_volume = "250 cm^3/mol", which is about the '
    "molar mass in g/mol (a rule of thumb), or a measured diffusivity",
    2: "both; leave out one of them",
    3: "all three; leave out two of them",
}

EITHER_OR = (
    ("time_constant", "rise_time"),
    ("interval", "rate"),
    ("averaged", "moving_average"),
    RETENTION_KEYS,
    ("porosity", "dead_time"),
    ("retention_change", "retention_enthalpy"),
)
"""Keys of which one excludes the other."""

SUM_TOLERANCE = 1e-6


def broken_rules(document: Tables) -> list[Problem]:
    """Return every rule that a document breaks; wrong types are passed over, for the model."""
    return [problem for rule in RULES for problem in rule(document)]


def _steering_characters(document: Tables) -> Iterator[Problem]:
    """Yield texts and keys, anywhere, with characters that steer a terminal or are none."""
    waiting: list[tuple[Place, Any]] = [((), document)]
    while waiting:
        place, value = waiting.pop()
        if isinstance(value, dict):
            waiting += [((*place, key), one) for key, one in value.items()]
            value = "".join(value)
        elif isinstance(value, list):
            waiting += [((*place, index), one) for index, one in enumerate(value)]
        found = unprintable(value) if isinstance(value, str) else ""
        if found:
            yield Problem(
                place,
                f"expected text, found the control character U+{ord(found[0]):04X}; leave it out",
            )


def tables(document: Tables, key: str) -> list[tuple[int, Tables]]:
    """Return the tables of an array of tables with their positions, leaving out what is none."""
    found = document.get(key)
    if not isinstance(found, list):
        return []
    return [(index, one) for index, one in enumerate(found) if isinstance(one, dict)]


def table(document: Tables, key: str) -> Tables:
    """Return a table of the document, empty where there is none."""
    found = document.get(key)
    return found if isinstance(found, dict) else {}


def inner_rules(values: Tables, where: Place) -> Iterator[Problem]:
    """Yield what does not go together within the table of one part or the detector."""
    for key, sentence in _table_of(values).conflicts(values):
        yield Problem((*where, key), sentence)
    for one, other in EITHER_OR:
        if values.get(one, False) is not False and other in values:
            yield Problem(
                (*where, other),
                f"expected either {one} or {other}, found both; leave out one of them",
            )
    timed = "interval" in values or "rate" in values
    if values.get("averaged") is True and not timed:
        yield Problem(
            (*where, "averaged"),
            'expected an interval to average over, found none; add interval = "50 ms" or '
            'rate = "20 Hz"',
        )
    if "sampling_phase" in values and not timed:
        yield Problem(
            (*where, "sampling_phase"),
            'expected points at an interval, found none; add rate = "20 Hz"',
        )
    pair = {"noise": "0.02 mAU", "noise_time_constant": "1 s"}
    for (key, _), (other, example) in zip(pair.items(), reversed(pair.items()), strict=True):
        if key in values and other not in values:
            yield Problem(
                (*where, key),
                f"expected noise with the time constant at which it was stated, found only {key}; "
                f'add {other} = "{example}"',
            )


def _loop(document: Tables) -> Iterator[Problem]:
    loop = table(document, "injection")
    given = [key for key in ("loop_bore", "loop_length", "loop_volume") if key in loop]
    if SHAPE_TABLES.get(str(loop.get("shape"))) is LoopTable and (
        len(given) == 3 or ("loop_bore" not in given and len(given) < 2)
    ):
        yield Problem(
            ("injection", given[-1]) if given else ("injection",),
            "expected loop_bore, or two of loop_bore, loop_length and loop_volume, found "
            f'{" and ".join(given) or "none"}; add loop_bore = "0.25 mm"',
        )


def _dead_times(document: Tables) -> Iterator[Problem]:
    timed = [index for index, one in _columns(document) if "dead_time" in one]
    for index in timed[1:]:
        yield Problem(
            ("path", index, "dead_time"),
            "expected the dead time of one column, which is recorded behind all of them, found "
            "another; give porosity instead",
        )


def _names(document: Tables) -> Iterator[Problem]:
    for key in ("path", "solutes", "columns", "changes"):
        first: dict[str, int] = {}
        for index, one in tables(document, key):
            name = one.get("name")
            if not isinstance(name, str):
                continue
            where: Place = (key, index, "name")
            if name in first:
                yield Problem(
                    where,
                    f'expected a name of its own, found "{name[:60]}" as in {key}[{first[name]}]; '
                    "rename one of them",
                )
            first.setdefault(name, index)
            if key == "path" and name in RESERVED:
                yield Problem(
                    where, f'expected a name other than "{name}", which results use; rename it'
                )


def _parts(document: Tables) -> Iterator[Problem]:
    solutes = [one for _, one in tables(document, "solutes")]
    for index, part in tables(document, "path"):
        where = ("path", index)
        yield from inner_rules(part, where)
        changing = "[gradient]" if "gradient" in document else solvent_of(document)
        beside = _table_of(part).conflicts_beside(part, solutes, changing)
        yield from (Problem((*where, key), sentence) for key, sentence in beside)


def _joined(document: Tables) -> Iterator[Problem]:
    """Tubes that take over the profile of a part that hands none on."""
    for index, one in tables(document, "path"):
        before = document["path"][index - 1] if index else {}
        kind = before.get("part") if isinstance(before, dict) else None
        if one.get("inlet") != "carried over" or _laminar(kind):
            continue
        found = f'"{str(before.get("name"))[:60]}", a {kind}' if kind else "the injection"
        yield Problem(
            ("path", index, "inlet"),
            f"expected a tube right before it, whose profile is carried over, found {found}; "
            'set inlet = "mixed", or put a tube there',
        )


def _laminar(kind: object) -> bool:
    return isinstance(kind, str) and part_class(kind).laminar


def _table_of(part: Tables) -> type[PathTable]:
    """The model of a part's table; that of any part where its kind is not known."""
    kind = part.get("part")
    return PART_TABLES.get(kind, PathTable) if isinstance(kind, str) else PathTable


def _columns(document: Tables) -> Iterator[tuple[int, Tables]]:
    """Positions and tables of the columns on the path."""
    return (row for row in tables(document, "path") if separates(row[1]))


def separates(one: Tables) -> bool:
    """Whether a table of the path is that of a column."""
    kind = one.get("part")
    return isinstance(kind, str) and part_class(kind).separates


def _observes(one: Tables) -> bool:
    kind = one.get("part")
    return isinstance(kind, str) and part_class(kind).observes


def _eluent(document: Tables) -> Iterator[Problem]:
    method = table(document, "method")
    if not _readable(method):
        return
    eluent, where = table(method, "eluent"), ("method", "eluent")
    shares = [eluent[name] for name in LIQUID_NAMES if name in eluent]
    if "viscosity" in method and "viscosity" in eluent:
        yield Problem(
            ("method", "viscosity"),
            "expected the viscosity once, found it in the eluent too; leave out one of them",
        )
    given = "viscosity" in method or "viscosity" in eluent
    if not shares and not given:
        yield Problem(
            where,
            "expected a composition or a viscosity, found neither; "
            'add eluent = { water = 1.0 } or viscosity = "0.45 mPa*s"',
        )
    if shares and all(is_number(share) and 0 <= share <= 1 for share in shares):
        total = sum(shares)
        if abs(total - 1) > SUM_TOLERANCE:
            yield Problem(
                where,
                f"expected volume fractions that add up to 1, found a sum of {total:.7g}; "
                "correct the fractions",
            )


def _solutes(document: Tables) -> Iterator[Problem]:
    has_column = any(True for _ in _columns(document))
    method = table(document, "method")
    mixed = any(name in table(method, "eluent") for name in LIQUID_NAMES)
    for index, solute in tables(document, "solutes"):
        where: Place = ("solutes", index)
        given = [key for key in DIFFUSION_KEYS if key in solute]
        if len(given) != 1:
            yield Problem(
                (*where, given[-1]) if given else where,
                f"expected either {' or '.join(DIFFUSION_KEYS)}, found {FOUND_INSTEAD[len(given)]}",
            )
        if "rings" in solute and "formula" not in solute:
            yield Problem(
                (*where, "rings"),
                "expected rings beside a formula, found no formula; leave out rings",
            )
        if given and given[0] != "diffusivity" and _readable(method) and not mixed:
            yield Problem(
                (*where, given[0]),
                "expected an eluent composition for the estimate, found none; "
                "add eluent to [method] or give diffusivity",
            )
        given = [key for key in RETENTION_KEYS if key in solute]
        if len(given) > 1:
            yield Problem(
                (*where, given[-1]),
                f"expected either {' or '.join(given)}, found both; leave out one of them",
            )
        if has_column and "gradient" not in document and not given:
            factor, why = _factor_of(solute, table(method, "eluent"))
            yield Problem(
                where,
                "expected the key retention_factor since the path has a column, found none; "
                f'add retention_factor = {factor}{why} or retention_time = "3.2 min"',
            )
        if not has_column and "retention_time" in given:
            yield Problem(
                (*where, "retention_time"),
                "expected a column on the path, which retains, found none; leave it out",
            )


def _factor_of(solute: Tables, eluent: Tables) -> tuple[str, str]:
    """k in the eluent that kw and s give a solute, as text, and what it is; else an example."""
    weak, slope, water = solute.get("kw"), solute.get("s"), eluent.get("water", 0.0)
    if not (is_number(weak) and is_number(slope) and is_number(water) and len(eluent) == 2):
        return "2.1", ""
    factor = weak / 10 ** (slope * (1 - water))
    return f"{factor:.3g}", f" (which kw and s give at {100 * (1 - water):g} % in the eluent)"


def _gradient(document: Tables) -> Iterator[Problem]:
    columns = list(_columns(document))
    if "gradient" not in document:
        if solvent_of(document) != STRONG:
            needed = "a [gradient] or strong in [injection] to read {0}, found none"
            yield from _of_solutes(document, ("kw",), needed)
        return
    if not columns:
        yield Problem(
            ("gradient",),
            "expected a column on the path to run it on, found none; leave it out or add a column",
        )
    yield from _of_solutes(document, RETENTION_KEYS, "kw and s with a gradient, found {0}")
    yield from _without_strength(document, "there is a gradient")
    for index, column in columns:
        if column.get("kinetics", "equilibrium") != "equilibrium":
            yield Problem(
                ("path", index, "kinetics"),
                'expected "equilibrium" with a gradient, found another; leave out one of them',
            )


def _mixed(document: Tables) -> bool:
    """Whether it is known how much strong liquid there is where retention factors hold."""
    method = table(document, "method")
    return "stated_strong" in method or any(one in table(method, "eluent") for one in LIQUID_NAMES)


def _without_strength(document: Tables, because: str, by_eluent: bool = False) -> Iterator[Problem]:
    """Solutes without kw and s; ``by_eluent``: kw follows from s and k in the eluent."""
    for index, solute in tables(document, "solutes"):
        retained = by_eluent and any(key in solute for key in RETENTION_KEYS)
        for key, example in (("kw", 2000), ("s", 4.5)):
            if key not in solute and not (retained and key == "kw"):
                yield Problem(
                    ("solutes", index),
                    f"expected the key {key} since {because}, found none; add {key} = {example}",
                )


def solvent_of(document: Tables) -> str:
    """By which key the sample has a solvent of its own; empty where it has none."""
    if "strong" in table(document, "injection"):
        return STRONG
    given = any(SAMPLE_FACTOR in one for _, one in tables(document, "solutes"))
    return SAMPLE_FACTOR if given else ""


def _sampled(shape: object) -> bool:
    """Whether an injection holds the sample's solvent; true of shapes that are none."""
    table_of_shape = SHAPE_TABLES.get(shape) if isinstance(shape, str) else None
    return table_of_shape is None or issubclass(table_of_shape, SampleTable)


def _sample(document: Tables) -> Iterator[Problem]:
    by, gradient = solvent_of(document), "gradient" in document
    if not by:
        return
    if not any(True for _ in _columns(document)):
        place: Place = ("injection", "strong") if by == STRONG else ("solutes",)
        yield Problem(place, f"expected a column on the path beside {by}, found none; leave it out")
    if by == STRONG:
        yield from _of_solutes(document, (SAMPLE_FACTOR,), f"it or {STRONG}, found both")
        if not gradient:
            yield from _without_strength(document, f"there is {STRONG}", _mixed(document))
    elif gradient:
        yield from _of_solutes(document, (SAMPLE_FACTOR,), STRONG + " in its place, found {0}")
        return
    shape = table(document, "injection").get("shape")
    for index, solute in tables(document, "solutes"):
        if SAMPLE_FACTOR in solute and not _sampled(shape):
            yield Problem(
                ("solutes", index, SAMPLE_FACTOR),
                "expected shape plug, washout or loop, whose volume holds the sample's solvent, "
                f"found {shape}; write another shape or leave out {SAMPLE_FACTOR}",
            )


def _flows(document: Tables) -> Iterator[Problem]:
    """Flow that joins or leaves before a column, and more that leaves than arrives."""
    last = max((index for index, _ in _columns(document)), default=-1)
    arrives = flow_of(table(document, "method").get("flow"))
    for index, one in tables(document, "path"):
        behind = _table_of(one).flow_behind(one, arrives)
        if abs(behind - arrives) > 0 and index < last:
            yield Problem(
                ("path", index, "part"),
                "expected flow to join or leave behind the last column, found it before one; put "
                "it behind, or give [method] the flow that goes through the column",
            )
        if behind <= 0:
            yield Problem(
                ("path", index),
                f"expected less to leave than the {show(arrives, 'flow rate')} that arrive here, "
                "found more; give what leaves, not what is left",
            )
            return
        arrives = behind


def _of_solutes(document: Tables, keys: Sequence[str], expected: str) -> Iterator[Problem]:
    """A problem for each of these keys that a solute has."""
    for index, solute in tables(document, "solutes"):
        for key in keys:
            if key in solute:
                sentence = f"expected {expected.format(key)}; leave out {key}"
                yield Problem(("solutes", index, key), sentence)


def _detector(document: Tables) -> Iterator[Problem]:
    cell = table(document, "detector").get("cell")
    if isinstance(cell, str):
        cells = [str(one.get("name")) for _, one in tables(document, "path") if _observes(one)]
        if cell not in cells:
            yield Problem(("detector", "cell"), unknown("cell on the path", cell, cells))
    yield from inner_rules(table(document, "detector"), ("detector",))


def _readable(method: Tables) -> bool:
    """Whether the eluent can be judged: it is not so where its table or a key of it is wrong."""
    eluent = method.get("eluent", {})
    return bool(method) and isinstance(eluent, dict) and set(eluent) <= {*LIQUID_NAMES, "viscosity"}


RULES: tuple[Callable[[Tables], Iterator[Problem]], ...] = (
    _names,
    _parts,
    _dead_times,
    _loop,
    _joined,
    _eluent,
    _solutes,
    _gradient,
    _sample,
    _flows,
    _detector,
    _steering_characters,
)
