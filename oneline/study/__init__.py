"""Runs network, calculations and rules over a drawing."""

from oneline.study.results import Limit, PointFigures, StudyResult
from oneline.study.study import study

__all__ = ["Limit", "PointFigures", "StudyResult", "study"]
