"""Pictures of calibrations, series of additions, runs, limits, budgets and quality control.

Every function takes objects of this package and, where wanted, the matplotlib axes to draw on, and returns the axes it
drew on. matplotlib is imported when the first picture is drawn: ``pip install 'groundstate[plot]'``.
"""

from groundstate.plot._additions import additions
from groundstate.plot._budget import budget
from groundstate.plot._calibration import calibration
from groundstate.plot._control import control
from groundstate.plot._mdl import mdl
from groundstate.plot._overview import differences, recoveries
from groundstate.plot._run import run

__all__ = ["additions", "budget", "calibration", "control", "differences", "mdl", "recoveries", "run"]
