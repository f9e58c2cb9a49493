"""What stands on the campus, as tables."""

from inventory.models.catalogue import (
    Cable,
    EquipmentModel,
    Method,
    MethodPart,
    MethodPin,
    MethodStep,
    Part,
    Protocol,
    ProtocolRate,
)
from inventory.models.intake import Intake
from inventory.models.network import Bus, Node, Run, Scene, Zone
from inventory.models.places import Building, CalendarFile, Room
from inventory.models.readings import Reading
from inventory.models.sign_ins import SignInAttempt
from inventory.models.stock import Delivery, StockEntry
from inventory.models.upkeep import Failure, Spare

__all__ = [
    "Building",
    "Bus",
    "Cable",
    "CalendarFile",
    "Delivery",
    "EquipmentModel",
    "Failure",
    "Intake",
    "Method",
    "MethodPart",
    "MethodPin",
    "MethodStep",
    "Node",
    "Part",
    "Protocol",
    "ProtocolRate",
    "Reading",
    "Room",
    "Run",
    "Scene",
    "SignInAttempt",
    "Spare",
    "StockEntry",
    "Zone",
]
