"""Random scenarios as tables of text: linear paths of all kinds of parts, in units of all sorts."""

import numpy as np

LINEAR = ("fully porous", "core-shell", "solid core")


def _between(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _written(rng, value, *units):
    """A value in SI as text in one of some units, each a name and its size."""
    name, size = units[rng.integers(len(units))]
    return f"{value / size:.5g} {name}"


def _length(rng, low, high):
    units = ("mm", 1e-3), ("cm", 1e-2), ("in", 0.0254), ("um", 1e-6)
    return _written(rng, _between(rng, low, high), *units)


def _volume(rng, low, high):
    units = ("uL", 1e-9), ("nL", 1e-12), ("mm^3", 1e-9), ("microliter", 1e-9)
    return _written(rng, _between(rng, low, high), *units)


def _time(rng, low, high):
    return _written(rng, _between(rng, low, high), ("s", 1.0), ("ms", 1e-3))


def _tube(rng):
    sizes = {
        "bore": _length(rng, 0.06e-3, 0.4e-3),
        "length": _length(rng, 0.05, 0.8),
        "volume": _volume(rng, 0.5e-9, 2e-8),
    }
    if rng.random() < 0.7:
        del sizes["volume"]
    else:
        del sizes[("bore", "length")[rng.integers(2)]]
    return {"part": "tube", **sizes}


def _fitting(rng):
    made = {
        "part": "fitting",
        "gap_bore": _length(rng, 0.2e-3, 1e-3),
        "gap_length": _length(rng, 0.05e-3, 1e-3),
    }
    if rng.random() < 0.6:
        made["unswept"] = float(rng.uniform(0.1, 0.9))
        if rng.random() < 0.5:
            made["exchange"] = float(rng.uniform(0, 10))
    return made


def _chamber(rng):
    made = {"part": "chamber", "volume": _volume(rng, 0.1e-9, 8e-9)}
    if rng.random() < 0.5:
        made["tanks"] = float(np.round(rng.uniform(1, 6), 2))
    return made


def _cell(rng):
    made = {"part": "cell", "volume": _volume(rng, 0.3e-9, 12e-9)}
    way = rng.integers(4)
    if way == 0:
        made["length"] = "10 mm"
    elif way == 1:
        made |= {"read": "mean", "tanks": int(rng.integers(1, 6))}
    elif way == 2:
        made |= {"tanks": float(np.round(rng.uniform(1, 5), 1)), "light_path": "1 cm"}
    else:
        made["pressure_limit"] = "60 bar"
    return made


def _tee(rng):
    way = rng.integers(3)
    made = {"part": "tee", "volume": _volume(rng, 0.05e-9, 1e-9)}
    if way == 0:
        return made | {"make_up": "0.15 mL/min"}
    if way == 1:
        return made | {"split_share": float(rng.uniform(0.1, 0.5))}
    return made | {"split": "30 uL/min"}


def _column(rng):
    made = {
        "part": "column",
        "bore": _length(rng, 1.5e-3, 4.6e-3),
        "length": _length(rng, 0.03, 0.15),
        "particle_diameter": _length(rng, 1.6e-6, 5e-6),
        "particle": LINEAR[rng.integers(len(LINEAR))],
    }
    if rng.random() < 0.5:
        made["plates"] = float(np.round(_between(rng, 2000, 20000)))
        if rng.random() < 0.5:
            made["plates_flow"] = "0.4 mL/min"
        if rng.random() < 0.3:
            made["plates_include_head"] = False
    if rng.random() < 0.4:
        made["head_volume"] = _volume(rng, 0.05e-9, 0.6e-9)
    if rng.random() < 0.3:
        made["porosity"] = float(rng.uniform(0.5, 0.6))
    way = rng.integers(5)
    if way == 0:
        made["kinetics"] = "lumped"
        if rng.random() < 0.5:
            made["mass_transfer_rate"] = "200 s^-1"
    elif way == 1:
        made |= {"kinetics": "two-site", "slow_share": 0.03, "slow_rate": "2 s^-1"}
    elif way == 2:
        made["column_tailing"] = float(np.round(rng.uniform(1.02, 1.5), 2))
    return made


def _solute(rng, name, column):
    made = {"name": name}
    way = rng.integers(3)
    if way == 0:
        made["diffusivity"] = f"{_between(rng, 6e-10, 2e-9):.4g} m^2/s"
    elif way == 1:
        made["molar_volume"] = f"{rng.uniform(100, 300):.4g} cm^3/mol"
    else:
        made |= {"formula": "C20H28O5", "rings": int(rng.integers(3))}
    if column:
        if rng.random() < 0.8:
            made["retention_factor"] = float(np.round(_between(rng, 0.3, 12), 3))
        else:
            made["retention_time"] = f"{rng.uniform(20, 30):.4g} min"
    made |= {"amount": "1 nmol", "absorptivity": "12000 L/mol/cm"} if rng.random() < 0.5 else {}
    return made


def _injection(rng):
    volume = _volume(rng, 0.2e-9, 8e-9)
    way = rng.integers(3)
    if way == 0:
        return {"shape": "plug", "volume": volume}
    if way == 1:
        return {"shape": "washout", "volume": volume, "washout_volume": _volume(rng, 0.1e-9, 2e-9)}
    return {"shape": "gaussian", "sigma": _time(rng, 0.03, 0.5)}


def _detector(rng):
    made = {}
    way = rng.integers(3)
    if way:
        made[("time_constant", "rise_time")[way - 1]] = _time(rng, 0.02, 1.0)
    if rng.random() < 0.5:
        made["rate"] = f"{_between(rng, 8, 80):.4g} Hz"
        if rng.random() < 0.5:
            made["sampling_phase"] = float(np.round(rng.random() * 0.9, 2))
        if rng.random() < 0.5:
            made["averaged"] = True
    elif rng.random() < 0.4:
        made["moving_average"] = _time(rng, 0.05, 0.5)
    if rng.random() < 0.5:
        made |= {"noise": "0.02 mAU", "noise_time_constant": "1 s"}
    return made


def scenario(rng):
    """A path of three to nine parts with one to three solutes, as TOML has it."""
    column = rng.random() < 0.75
    water = float(np.round(rng.uniform(0, 1), 2))
    other = ("acetonitrile", "methanol")[rng.integers(2)]
    method = {
        "flow": f"{_between(rng, 0.2, 1.0):.4g} mL/min",
        "eluent": {"water": water, other: round(1 - water, 2)},
    }
    if rng.random() < 0.6:
        method["temperature"] = ("35 degC", "313.15 K", "20 degC")[rng.integers(3)]
    if rng.random() < 0.3:
        method["viscosity"] = "0.7 mPa*s"
    front = (_tube, _fitting, _chamber, _tube)
    path = [_tube(rng), *(front[rng.integers(4)](rng) for _ in range(rng.integers(3)))]
    if column:
        path.append(_column(rng))
    if rng.random() < 0.25:
        path.append(_tee(rng))
    path += [front[rng.integers(4)](rng) for _ in range(rng.integers(3))]
    if rng.random() < 0.85:
        path.append(_cell(rng))
        if rng.random() < 0.3:
            path.append(_tube(rng))
    for number, one in enumerate(path):
        one["name"] = f"part {number}"
    if rng.random() < 0.3:
        path[0]["temperature"] = "45 degC"
    made = {
        "method": method,
        "solutes": [_solute(rng, f"s{n}", column) for n in range(rng.integers(1, 4))],
        "injection": _injection(rng),
        "path": path,
    }
    if rng.random() < 0.8:
        made["detector"] = _detector(rng)
    if rng.random() < 0.5:
        made["limits"] = {"pressure": "300 bar"}
    return made


def in_gradient(rng):
    """The same with a column, run with a gradient of straight lines."""
    made = scenario(rng)
    while not any(one["part"] == "column" for one in made["path"]):
        made = scenario(rng)
    slow = ("kinetics", "mass_transfer_rate", "slow_share", "slow_rate", "column_tailing")
    made["path"] = [
        {key: value for key, value in one.items() if one["part"] != "column" or key not in slow}
        for one in made["path"]
    ]
    for one in made["solutes"]:
        one.pop("retention_factor", None)
        one.pop("retention_time", None)
        one |= {"kw": round(_between(rng, 10, 8000), 3), "s": round(rng.uniform(2.5, 5), 3)}
    end = rng.uniform(1, 12)
    rows = ((0, 0.05), (end, 0.95)) if rng.random() < 0.5 else ((0, 0.1), (end / 3, 0.3), (end, 1))
    programme = [{"time": f"{time:.5g} min", "strong": share} for time, share in rows]
    made["gradient"] = {"programme": programme}
    if rng.random() < 0.7:
        made["gradient"]["dwell_volume"] = _volume(rng, 5e-8, 1e-6)
    return made


def with_bends(rng):
    """The same with bends, in tubes and flows for which they are tabulated most often."""
    made = scenario(rng)
    made["method"]["flow"] = f"{_between(rng, 0.1, 0.6):.4g} mL/min"
    if rng.random() < 0.5:
        made["method"]["bend_radius"] = _length(rng, 8e-3, 0.2)
    for one in made["path"]:
        if one["part"] == "tube":
            one.pop("volume", None)
            one |= {"bore": _length(rng, 0.1e-3, 0.4e-3), "length": _length(rng, 0.3, 1.5)}
            if rng.random() < 0.6:
                one["bend_radius"] = _length(rng, 5e-3, 0.15)
            elif rng.random() < 0.3:
                one["bend_radius"] = "straight"
    for one in made["solutes"]:
        if one.pop("retention_time", None):
            one["retention_factor"] = float(np.round(_between(rng, 0.3, 12), 3))
    return made
