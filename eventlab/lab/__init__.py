"""Joins the rooms: taking, asking, proving; the face that other code uses."""

from eventlab.advice import Trial, WhatIf
from eventlab.analysis.drivers import Profile
from eventlab.lab.alive import AliveView
from eventlab.lab.finding_files import find_files
from eventlab.lab.fleet import FleetView
from eventlab.lab.hours import UsualHours
from eventlab.lab.lab import Lab
from eventlab.lab.layouts import Layout
from eventlab.lab.learning import HowSure
from eventlab.lab.nights import Raster
from eventlab.lab.people import PeopleView
from eventlab.lab.points import PointView
from eventlab.lab.proving import Proof
from eventlab.lab.result import FileResult
from eventlab.lab.taking import Progress
from eventlab.lab.teaching import Learned, Lesson
from eventlab.lab.views import SiteView
from eventlab.lab.watching import Watch
from eventlab.report import Tried

__all__ = [
    "AliveView",
    "FileResult",
    "FleetView",
    "HowSure",
    "Lab",
    "Layout",
    "Learned",
    "Lesson",
    "PeopleView",
    "PointView",
    "Profile",
    "Progress",
    "Proof",
    "Raster",
    "SiteView",
    "Trial",
    "Tried",
    "UsualHours",
    "Watch",
    "WhatIf",
    "find_files",
]
