"""Tolerances: how sure is it that an instrument keeps its limits, and how wide may its parts be?"""

from tailrace.studies.tolerance.planning import Plan, plan
from tailrace.studies.tolerance.solve import answer

__all__ = ["Plan", "answer", "plan"]
