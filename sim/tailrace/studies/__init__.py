"""Many journeys with one question: what a figure becomes when parts of a scenario are varied."""

__all__ = ["sweep"]


def sweep(scenario, vary, together=False, progress=None):
    """Vary fields of a scenario; see ``tailrace.studies.sweeping``. Loads it when first used."""
    from tailrace.studies.sweeping import sweep as make

    return make(scenario, vary, together, progress)
