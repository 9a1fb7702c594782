"""What changes to an instrument bring: as text, JSON object, work sheet and report."""
