"""Results as xarray trees with units and provenance, to HDF5 files and back."""
