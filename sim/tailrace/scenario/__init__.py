"""The scenario file: read, checked, and turned into parts and streams."""

__all__ = ["load_scenario"]


def load_scenario(path):
    """Read and check a scenario file; see ``tailrace.scenario.read.load_scenario``.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Scenario

    Raises
    ------
    ScenarioError
        With one sentence for each thing to mend.
    """
    from tailrace.scenario.read import load_scenario as load

    return load(path)
