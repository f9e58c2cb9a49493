"""Briefs, verdicts, plans and background work, as tables."""

from planner.models.ageing import Reckoning, StationRisk
from planner.models.assessment import Assessment, Segment, SegmentMember
from planner.models.briefs import Brief, BriefSetting, Closure, Crew, Phase
from planner.models.choices import OrderChoice, Precedence, TakenWay
from planner.models.jobs import Job
from planner.models.plans import Adoption, Order, OrderEvent, Plan, TakeoffLine
from planner.models.work import CrewMember, Feed, FiguresSent, Photograph, Rebuild, WorkEntry

__all__ = [
    "Adoption",
    "Assessment",
    "Brief",
    "BriefSetting",
    "Closure",
    "Crew",
    "CrewMember",
    "Feed",
    "FiguresSent",
    "Job",
    "Order",
    "OrderChoice",
    "OrderEvent",
    "Phase",
    "Photograph",
    "Plan",
    "Precedence",
    "Rebuild",
    "Reckoning",
    "Segment",
    "SegmentMember",
    "StationRisk",
    "TakenWay",
    "TakeoffLine",
    "WorkEntry",
]
