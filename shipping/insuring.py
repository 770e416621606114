"""What is insured while it travels: the policies of a day, and how far they go for what a vehicle carries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from inventory.ledger import Witness
from inventory.models import Role
from shipping.models import Policy
from shipping.packing.freight import money


class PolicyRefusal(ValueError):
    """This cannot be entered as a policy. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Insured:
    """How far one policy goes for one sum of one currency. `policy` None: no policy in that currency is entered."""

    value: Decimal
    currency: str
    policy: Policy | None = None

    @property
    def short(self) -> Decimal:
        """What the value exceeds the insured sum by."""
        return max(Decimal(0), self.value - (self.policy.in_one_vehicle if self.policy else Decimal(0)))

    @property
    def meaning(self) -> str:
        return "settled" if self.policy is not None and not self.short else "doubtful"

    @property
    def word(self) -> str:
        if self.policy is None:
            return "NOT KNOWN"
        return "TOO LITTLE" if self.short else "INSURED"

    @property
    def sentence(self) -> str:
        if self.policy is None:
            return f"No policy in {self.currency or 'this currency'} is entered for that day."
        policy = self.policy
        lead = f"Insured for up to {money(policy.in_one_vehicle, policy.currency)} in one vehicle"
        lead += f": {money(self.short, self.currency)} less than it costs new. " if self.short else ". "
        return f"{lead}{policy}; {policy.get_basis_display()}; {self._excess}{self._overnight}"

    @property
    def _excess(self) -> str:
        policy = self.policy
        if policy is None or not policy.excess:
            return "no excess."
        return f"excess {money(policy.excess, policy.currency)} of each loss."

    @property
    def _overnight(self) -> str:
        return f" Overnight: {self.policy.overnight}." if self.policy and self.policy.overnight else ""


def in_force(on: date) -> dict[str, Policy]:
    """By currency the policy that counts on a day: of those in force the one entered last."""
    known = Policy.objects.filter(valid_from__lte=on).order_by("entered_at", "pk")
    return {one.currency: one for one in known if one.valid_to is None or one.valid_to >= on}


def insured(
    values: Iterable[tuple[str, Decimal]], on: date, policies: Mapping[str, Policy] | None = None
) -> list[Insured]:
    """One line a currency: a policy in another currency says nothing of these values.

    `policies` are those in force on that day, where somebody asks about many vehicles.
    """
    policies = in_force(on) if policies is None else policies
    return [Insured(value, currency, policies.get(currency)) for currency, value in values]


def enter(given: dict[str, Any], *, by: Witness, at: datetime) -> Policy:
    """Enter a policy from a day on. Earlier rows stay."""
    if by.role != Role.KIT_MANAGER:
        raise PolicyRefusal("Only the kit manager enters a policy.")
    if not given["currency"].isalpha() or len(given["currency"]) != 3:
        raise PolicyRefusal("Say in which currency: three letters, as the values are entered.")
    if given["in_one_vehicle"] <= 0 or given["excess"] < 0:
        raise PolicyRefusal("The insured sum is above zero, and the excess is not below it.")
    if given["valid_to"] and given["valid_to"] < given["valid_from"]:
        raise PolicyRefusal("It ends before it begins. Mend one of the two days.")
    given = {**given, "currency": given["currency"].upper()}
    return Policy.objects.create(**given, entered_by=by.name, entered_at=at)
