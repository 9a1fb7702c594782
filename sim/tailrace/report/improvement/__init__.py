"""What changes to an instrument bring: as text, as one JSON object, as a work sheet."""
