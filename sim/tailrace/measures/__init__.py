"""What is read off a peak."""

from tailrace.measures.moments import Moments, moments
from tailrace.measures.peak import measure
from tailrace.measures.shape import Outline

__all__ = ["Moments", "Outline", "measure", "moments"]
