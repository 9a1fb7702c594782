"""Many journeys with one question: what a metric becomes when parts of a scenario are varied."""
