"""Measured signals: read, their baseline and noise, the peaks on them; a simulated signal alike."""
