"""Everything the book holds about things, places, people and what happened."""

from inventory.models.catalogue import Axle, Compartment, ContainerType, ItemType, Kind
from inventory.models.changes import RowChange
from inventory.models.drives import (
    Acceptance,
    Copy,
    CopySerial,
    HashListCheck,
    Hold,
    HoldLift,
    Release,
    ReleaseRequest,
    ReleaseSerial,
    RequestAnswer,
    RequestSerial,
    Wipe,
    Withdrawal,
)
from inventory.models.entries import Entry, Grade, Holding, Photo, PhotoAsSent, SetAside, Verb
from inventory.models.imports import ImportedSheet, WorkListNote
from inventory.models.papers import IssuedPaper
from inventory.models.passes import DayPass, Device, WrongCode
from inventory.models.people import ClientReference, Mandate, MandatePerson, Organisation, Person, Role
from inventory.models.places import Place, PlaceKind
from inventory.models.receipts import ScanReceipt
from inventory.models.things import (
    DriveSet,
    Item,
    ItemAlias,
    Label,
    LabelKind,
    Necessity,
    SetupCheck,
    System,
    SystemPart,
)

__all__ = [
    "Acceptance", "Axle", "ClientReference", "Compartment", "ContainerType", "Copy", "CopySerial", "DayPass",
    "Device", "DriveSet", "Entry", "Grade", "HashListCheck", "Hold", "HoldLift", "Holding", "ImportedSheet",
    "IssuedPaper", "Item", "ItemAlias", "ItemType", "Kind", "Label", "LabelKind", "Mandate", "MandatePerson",
    "Necessity", "Organisation", "Person", "Photo", "PhotoAsSent", "Place", "PlaceKind", "Release", "ReleaseRequest",
    "ReleaseSerial", "RequestAnswer", "RequestSerial", "Role", "RowChange", "ScanReceipt", "SetAside", "SetupCheck",
    "System", "SystemPart", "Verb", "Wipe", "Withdrawal", "WorkListNote", "WrongCode",
]  # fmt: skip
