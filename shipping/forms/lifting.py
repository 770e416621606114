"""The form of a closer look at one lift: what the hands do, and what would make any figure meaningless."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from shipping.packing.lifting_filter import Zone
from shipping.packing.lifting_look import METRIC, US, NotFor, reach_of

UNITS = {"cm": METRIC, "in": US}
POUND_KG = Decimal("0.45359237")
WORK = [
    ("short", "up to 1 hour, then as long a rest"),
    ("moderate", "up to 2 hours, then a third of that as rest"),
    ("long", "up to 8 hours"),
]
GRIP = [("good", "good: handles or a comfortable hold"), ("fair", "fair"), ("poor", "poor: hard edges, no hold")]
ZONES = [(zone.name, zone.value) for zone in Zone]


def _number(label: str, most: int, help_text: str = "", least: float = 0, **more: Any) -> forms.DecimalField:
    places = {"max_digits": 7, "decimal_places": 2}
    return forms.DecimalField(label=label, min_value=least, max_value=most, help_text=help_text, **places, **more)


class LiftForm(forms.Form):
    units = forms.ChoiceField(label="Given in", choices=[("cm", "cm and kg"), ("in", "inches and lb")])
    load = _number("Mass of it", 2000, "As the scale says, or as reckoned.", 0.1)
    height_from = _number("Hands above the floor, at the start", 400)
    height_to = _number("Hands above the floor, at the end", 400)
    reach_from = _number("Hands from the ankles, at the start", 200, "Level distance to the middle of the grip.")
    reach_to = _number("Hands from the ankles, at the end", 200)
    twist = _number("Twist of the body, degrees", 180, "The larger of start and end; 0 if you face it all the way.")
    per_minute = _number("Lifts a minute", 60, "0.2 is one in five minutes, or less.", 0.01)
    minutes_of_15 = _number("Minutes of lifting in every 15", 15, least=0.1)
    work = forms.ChoiceField(label="How long", choices=WORK)
    grip = forms.ChoiceField(label="Grip", choices=GRIP)
    careful = forms.BooleanField(label="It is set down with care, not dropped in place", required=False)
    others = forms.CharField(
        label="Other cases lifted in the same spell", max_length=200, required=False,
        help_text="Their numbers with spaces; each lifted the same way and as often.",
    )  # fmt: skip
    zone_from = forms.ChoiceField(label="Hands at the start", choices=ZONES)
    zone_to = forms.ChoiceField(label="Hands at the end", choices=ZONES)
    far = forms.BooleanField(label="Hands at arm's length anywhere on the way", required=False)
    figures = forms.ChoiceField(
        label="Figures", choices=[("women", "women's: the lower, for a mixed crew"), ("men", "men's")]
    )
    not_for = forms.MultipleChoiceField(
        label="Is any of this so?", required=False, widget=forms.CheckboxSelectMultiple,
        choices=[(one.name, one.value) for one in NotFor],
        help_text="Where one is so, the figures do not hold: none is given.",
    )  # fmt: skip

    lift = ("units", "load", "height_from", "height_to", "reach_from", "reach_to", "twist", "per_minute",
            "minutes_of_15", "work", "grip", "careful", "others")  # fmt: skip
    body = ("zone_from", "zone_to", "far", "figures")

    @property
    def of_lift(self) -> list[forms.BoundField]:
        return [self[name] for name in self.lift]

    @property
    def of_body(self) -> list[forms.BoundField]:
        return [self[name] for name in self.body]


def starting_figures(gross_kg: Decimal | None, sides_mm: tuple[int | None, int | None]) -> dict[str, Any]:
    """Figures to change: from a low grip to a van's deck, the reach worked out from the narrower side of the case."""
    depth_cm = min((side for side in sides_mm if side is not None), default=600) / 10
    start = {
        "units": "cm", "height_from": 30, "height_to": 75, "reach_from": f"{reach_of(depth_cm, 30):g}",
        "reach_to": f"{reach_of(depth_cm, 75):g}", "twist": 0, "per_minute": Decimal("0.2"), "minutes_of_15": 15,
        "work": "short", "grip": "good", "careful": True, "zone_from": "LOWER_LEG", "zone_to": "KNUCKLE",
        "figures": "women",
    }  # fmt: skip
    return start | ({} if gross_kg is None else {"load": f"{gross_kg:.2f}".rstrip("0").rstrip(".")})
