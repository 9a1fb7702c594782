"""Tolerances: how sure is it that an instrument keeps its limits, and how wide may its parts be?"""

from tailrace.studies.tolerance.carrying import answer
from tailrace.studies.tolerance.planning import Plan, plan

__all__ = ["Plan", "answer", "plan"]
