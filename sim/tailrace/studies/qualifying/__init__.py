"""Is this installation sound, does it compute what is known, how well does the model describe?

``installed.py`` files as they were installed; ``known.py`` answers that are known;
``validation.py`` measured and published values beside the model's.
"""
