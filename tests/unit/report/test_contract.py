"""The JSON object: the keys of the contract, in its order, and nothing that JSON cannot say."""

import json
from dataclasses import replace

import numpy as np

from tailrace.report.run import as_json as as_contract

# The example in the contract of the scenario file (part of the project's order), without values.
PART = {
    "name": "",
    "part": "",
    "volume": 0,
    "residence": 0,
    "fourier_number": 0,
    "mean": {"closed_form": 0, "simulated": 0},
    "variance": {"gaussian_theory": 0, "exact": 0, "simulated": 0},
    "variance_volume": 0,
    "skewness": {"exact": 0, "simulated": 0},
    "gradient_focusing": 0,
}
RECORDED = (
    *("apex", "area", "mean", "variance", "skewness", "width_half", "plates_half_height"),
    *("plates_moments", "tailing_5", "asymmetry_10", "amount_recovered", "peak_capacity"),
    "variance_volume_extra_column",
)
SIGNAL = (
    *("concentration_in_cell", "concentration_recorded", "relative_signal", "relative_noise"),
    *("relative_signal_to_noise", "light_path", "absorbance", "noise", "signal_to_noise"),
)
SOLUTE = {
    "name": "",
    "parts": [PART],
    "recorded": dict.fromkeys(RECORDED, 0),
    "column_alone": {"plates_half_height": 0, "tailing_5": 0, "peak_capacity": 0},
    "numerical_error": dict.fromkeys(RECORDED, 0),
    "signal": dict.fromkeys(SIGNAL, 0),
}


def keys(value, above=""):
    """The keys at every depth as paths; of a list those of its first item."""
    if isinstance(value, dict):
        inner = [keys(one, f"{above}.{key}") for key, one in value.items()]
        return set().union({f"{above}.{key}" for key in value}, *inner)
    return keys(value[0], above) if isinstance(value, list) and value else set()


def contract_of(result):
    return as_contract(result, "title", "ab" * 32, "0.1.0")


def test_the_keys_are_those_of_the_contract(result):
    answer = contract_of(result)
    assert list(answer) == [
        *(
            "contract",
            "title",
            "scenario_sha256",
            "version",
            "solutes",
            "pressure",
            "resolution",
            "warnings",
            "assumptions",
            "columns",
        )
    ]
    assert keys(answer["solutes"]) >= keys([SOLUTE])
    assert list(answer["pressure"]) == [
        "total",
        "parts",
        "cell_inlet",
        "highest",
        "highest_at_cell",
        "limit",
    ]


def test_injector_first_detector_last_and_no_volume_is_null(result):
    parts = contract_of(result)["solutes"][0]["parts"]
    assert [parts[0]["part"], parts[-1]["part"]] == ["injector", "detector"]
    assert parts[-1]["volume"] is None
    assert parts[-1]["variance"]["exact"] is None
    assert parts[1]["fourier_number"] == 0.0346
    assert parts[4]["fourier_number"] is None


def test_numbers_are_those_of_the_result(make_result):
    result = make_result(lanes=("a", "b"), warnings=("watch out",))
    answer = contract_of(result)
    for lane, solute in enumerate(answer["solutes"]):
        assert solute["recorded"]["variance"] == result.recorded["variance"][lane]
        assert solute["numerical_error"]["tailing_5"] == result.numerical_error["tailing_5"][lane]
        shown = [part["variance"]["simulated"] for part in solute["parts"]]
        assert shown == [part.variance_simulated[lane] for part in result.parts]
    assert answer["pressure"]["total"] == result.pressure.total
    assert answer["warnings"] == ["watch out"]


def test_it_is_strict_json_whatever_is_missing(make_result, rows):
    result = make_result(rows=[rows["injection"], rows["needle seat"]])
    nothing = {name: np.array([np.nan]) for name in result.recorded}
    nothing["width_half"] = np.array([np.inf])
    answer = contract_of(replace(result, recorded=nothing, numerical_error={}))
    again = json.loads(json.dumps(answer, allow_nan=False))
    assert again == answer
    solute = answer["solutes"][0]
    assert set(solute["recorded"].values()) == {None}
    assert solute["column_alone"] == dict.fromkeys(SOLUTE["column_alone"])
    assert set(solute["numerical_error"].values()) == {None}
    assert answer["pressure"]["cell_inlet"] is None
