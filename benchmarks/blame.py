"""Whether the part that a run names first is the one whose ideal version brings most plates back.

On random instruments, against journeys with a thousand tanks in place of each part. Where two
parts bring back alike, within the stated error, either may be named.
"""

import sys
from pathlib import Path

from timing import Bar, finish

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))


def named_first(seed: int) -> tuple[bool, float, bool]:
    """Whether the right part is named, for how much of the largest gain, and by variance alone."""
    from reference.ideal_parts import plates_back, random_instrument

    from tailrace.journey import travel
    from tailrace.scenario.scenario import Scenario

    itinerary = Scenario.from_text(random_instrument(seed)).itinerary()
    result = travel(itinerary, blame=True)
    expected = {name: values[0] for name, values in plates_back(itinerary).items()}
    assert result.regained is not None
    first = result.regained.ranked(0)[0][0]
    best = max(expected, key=lambda name: expected[name])
    error = float(sum(result.regained.numerical_error[name][0] for name in (first, best)))
    variances = {
        part.name: part.variance_simulated[0] for part in result.parts if not part.separates
    }
    right = first == best or expected[best] - expected[first] <= error
    loss = 1 - expected[first] / expected[best]
    return right, loss, max(variances, key=lambda name: variances[name]) == best


def main(count: int = 200) -> None:
    """Measure and print."""
    found = [named_first(seed) for seed in range(count)]
    row = {
        "instruments": count,
        "right": sum(one[0] for one in found),
        "most lost by another": max(one[1] for one in found),
        "right by variance": sum(one[2] for one in found),
    }
    bar = Bar(name="right part named first, of all", measured=row["right"] / count, bound=1.0)
    finish("The part that is named first", [row], [bar], as_json=False)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
