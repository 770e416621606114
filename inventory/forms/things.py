"""A thing's own row, as a person fills it in."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.folding import fold
from inventory.forms.fields import ThingField
from inventory.models import Item, ItemAlias, ItemType, Kind, Place, PlaceKind

DATE = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
MOMENT = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
FIELDS = (
    "type", "serial", "number", "name", "quantity", "home_system", "home_set", "home_case", "owner", "off_hire_at",
    "cost_per_day", "inspection_due", "registration", "warranty_until", "note",
)  # fmt: skip


class ThingForm(forms.ModelForm):
    """Checks what one thing may not share with another: its serial within a maker, its number with anything ever."""

    home_case = ThingField(required=False, label="Home case (number or code)")

    class Meta:
        model = Item
        fields = FIELDS
        labels = {
            "name": "Name, if it needs more words than its type",
            "number": "Number people say",
            "quantity": "Pieces",
            "home_system": "Belongs to the system",
            "home_set": "Belongs to the drive set",
            "off_hire_at": "Off-hire, if hired in",
            "cost_per_day": "Hire per day",
            "registration": "Maker's registration, or a plate",
        }
        help_texts = {"serial": "Letter by letter as it stands on the thing.", "name": "", "registration": ""}
        widgets = {"inspection_due": DATE, "warranty_until": DATE, "off_hire_at": MOMENT}

    def clean_number(self) -> str | None:
        number = (self.cleaned_data.get("number") or "").strip() or None
        taken = ItemAlias.objects.filter(number__iexact=number or "").exclude(item=self.instance.pk).first()
        if taken is not None:
            raise forms.ValidationError(f"{number} was the number of {taken.item} and leads there for ever.")
        if number and Item.objects.filter(number__iexact=number).exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError(f"{number} is taken. Choose another number.")
        return number

    def clean_home_case(self) -> Item | None:
        case = self.cleaned_data.get("home_case")
        if case is not None and case.type.kind != Kind.CASE:
            raise forms.ValidationError(f"{case} is no case.")
        if case is not None and case.pk == self.instance.pk:
            raise forms.ValidationError("A case cannot be its own home.")
        return case

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        serial, kind = fold(data.get("serial") or ""), data.get("type")
        if kind is None:
            return data
        identity = f"{fold(kind.maker)}|{serial}"
        twin = Item.objects.filter(identity=identity).exclude(pk=self.instance.pk).first() if serial else None
        if twin is not None:
            self.add_error("serial", f"{twin} has this serial already. Look at its page, or read the serial again.")
        if serial and (data.get("quantity") or 1) > 1:
            self.add_error("quantity", "A serial is on one piece. For several pieces leave the serial empty.")
        return data


class AddThingForm(ThingForm):
    code = forms.CharField(
        required=False, max_length=40, label="Code of a blank label", help_text="Empty: a new code is made."
    )
    place = forms.ModelChoiceField(
        Place.objects.none(), required=False, label="Where it is now", empty_label="nobody has said yet"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = Place.objects.exclude(kind__in=(PlaceKind.INSIDE, PlaceKind.GONE))


class EditThingForm(ThingForm):
    reason = forms.CharField(max_length=250, label="Why it is changed", help_text="It stands in the history.")

    def changes(self) -> dict[str, Any]:
        """Only what differs, for the ledger."""
        return {name: self.cleaned_data[name] for name in self.changed_data if name in FIELDS}


class ItemTypeForm(forms.ModelForm):
    """A kind of thing. What nobody has said stays empty."""

    class Meta:
        model = ItemType
        exclude = ("key",)  # noqa: DJ006 - every other field of a kind is a person's to fill in
        labels = {
            "length_mm": "Length, mm", "width_mm": "Width, mm", "height_mm": "Height, mm", "mass_kg": "Mass, kg",
            "rack_depth_mm": "Rack depth, mm", "rack_units": "Rack units, U",
            "max_on_top_kg": "May carry on top, kg", "battery_wh": "Battery, Wh each",
            "battery_count": "Batteries in it", "inspection_interval_days": "Inspection every … days",
            "supplies": "Redundant supplies", "is_lot": "Counted, not told apart", "capacity_gb": "Capacity, GB",
            "cord_length_mm": "Cord length, mm", "hs_hint": "Customs heading, as a hint",
            "country_of_origin": "Country of origin, two letters", "currency": "Currency, three letters",
        }  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        key = ItemType.make_key(data.get("maker") or "", data.get("name") or "")
        if ItemType.objects.filter(key=key).exclude(pk=self.instance.pk).exists():
            self.add_error("name", "This maker's type is in the book already. Change that one instead.")
        for name in ("mass_kg", "length_mm", "width_mm", "height_mm"):
            if data.get(name) is not None and data[name] <= 0:
                self.add_error(name, "Zero is no measure. Leave it empty if nobody has said.")
        return data
