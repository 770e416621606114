"""Fields that take what a person has at hand: a code, a number or a serial, and a place by name or by container."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.models import Item, Place, PlaceKind
from inventory.naming import item_named
from inventory.registering import inside_of


class ThingField(forms.CharField):
    """A thing by its code, number or serial. Cleans to an Item, or None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 80)
        super().__init__(**kwargs)
        self.widget.attrs.update(autocapitalize="characters", autocomplete="off", spellcheck="false")

    def prepare_value(self, value: Any) -> Any:
        return Item.objects.get(pk=value) if isinstance(value, int) else value

    def clean(self, value: Any) -> Item | None:
        words = super().clean(value)
        if not words:
            return None
        item = item_named(words)
        if item is None:
            raise forms.ValidationError(
                f"“{words}” is no code, number or serial in the book. Look for it in the box above."
            )
        return item


class ThingsField(forms.CharField):
    """Several things, one a line. Cleans to a list of Items, each once."""

    widget = forms.Textarea

    def clean(self, value: Any) -> list[Item]:
        words = [line.strip() for line in super().clean(value).splitlines() if line.strip()]
        found = {line: item_named(line) for line in words}
        strangers = [line for line, item in found.items() if item is None]
        if strangers:
            raise forms.ValidationError(
                f"Not in the book: {', '.join(strangers[:10])}. Mend or remove these lines; nothing was written yet."
            )
        return list({item.pk: item for item in found.values() if item}.values())


class PlaceMixin(forms.Form):
    """A place from the list, or the number of a case, frame or vehicle to put things into."""

    place = forms.ModelChoiceField(Place.objects.none(), required=False, label="Place", empty_label="choose a place")
    container = ThingField(required=False, label="Or into (number or code)")
    bay = forms.CharField(required=False, max_length=20, label="Bay, slot or pocket")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = Place.objects.exclude(kind__in=(PlaceKind.INSIDE, PlaceKind.GONE))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        container = data.get("container")
        if container is not None and not hasattr(container.type, "container"):
            self.add_error("container", f"{container} cannot hold anything. Name a case, a frame or a vehicle.")
        elif container is not None:
            data["place"] = inside_of(container)
        elif not data.get("place") and not self.errors:
            self.add_error("place", "Choose a place, or write the number of what it goes into.")
        return data


class WhenMixin(forms.Form):
    """Words about an act, and when it was if it was not now."""

    happened_at = forms.DateTimeField(
        required=False,
        label="When, if not now",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    note = forms.CharField(required=False, max_length=500, label="Note")


class PhotoMixin(forms.Form):
    photo = forms.FileField(
        required=False,
        label="Photo",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
