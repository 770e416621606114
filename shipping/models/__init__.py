"""What should go where, with which papers, and whether it came back."""

from shipping.models.consignments import Consignment, ConsignmentCase, Leg, Mode
from shipping.models.papers import BorderLine, BorderList
from shipping.models.plans import DeckAcceptance, DeckPlan, PackLine, PackPlan, PlanAcceptance, PlanRun
from shipping.models.policies import Basis, Policy
from shipping.models.returns import Return, ReturnException
from shipping.models.shows import Booking, Show
from shipping.models.waivers import CarrierFigure, RuleLimit, Waiver

__all__ = [
    "Basis", "Booking", "BorderLine", "BorderList", "CarrierFigure", "Consignment", "ConsignmentCase", "DeckAcceptance",
    "DeckPlan", "Leg", "Mode", "PackLine", "PackPlan", "PlanAcceptance", "PlanRun", "Policy", "Return",
    "ReturnException", "RuleLimit", "Show", "Waiver",
]  # fmt: skip
