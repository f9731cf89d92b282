"""Registers the models of the rooms of production with Django; nothing imports from here."""

from production.casts.models import Cast, Mould, Plaster, Pour, RoomReading, Weighing, Workshop
from production.frames.models import (
    CutFrame,
    Cutting,
    Frame,
    FrameHabits,
    FrameOption,
    FrameSize,
    FrameSpecification,
    Moulding,
    Offcut,
)
from production.schedule.models import ByCourier, PlanPin, PlanRun, PlanStep
from production.spoilage.models import Spoilage, SpoilReason
from production.stock.models import Lot, Material, Purchase, StockMove
from production.working_week.models import OtherDays, WorkingWeek

__all__ = [
    "ByCourier",
    "Cast",
    "CutFrame",
    "Cutting",
    "Frame",
    "FrameHabits",
    "FrameOption",
    "FrameSize",
    "FrameSpecification",
    "Lot",
    "Material",
    "Mould",
    "Moulding",
    "Offcut",
    "OtherDays",
    "PlanPin",
    "PlanRun",
    "PlanStep",
    "Plaster",
    "Pour",
    "Purchase",
    "RoomReading",
    "SpoilReason",
    "Spoilage",
    "StockMove",
    "Weighing",
    "WorkingWeek",
    "Workshop",
]
