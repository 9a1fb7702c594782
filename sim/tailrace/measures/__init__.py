"""What is read off a peak, and the registry of all that can be."""

from tailrace.measures.metric import Metric
from tailrace.measures.moments import Moments, moments
from tailrace.measures.peak import measure
from tailrace.measures.peaks import Gaussian, Peaks, Setting
from tailrace.measures.registry import METRICS, SIGNALS

__all__ = [
    "METRICS",
    "SIGNALS",
    "Gaussian",
    "Metric",
    "Moments",
    "Peaks",
    "Setting",
    "measure",
    "moments",
]
