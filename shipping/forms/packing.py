"""What is asked of the packing desk, as it stands in its address: readable, and the same for everybody who opens it."""

from __future__ import annotations

import re
from typing import Any

from django import forms

from inventory.models import Item, System
from inventory.naming import item_named
from shipping.booking import cases_of
from shipping.models import Show
from shipping.planning.going import Question, vehicles_to_choose

MANY = {"class": "many"}
RARE = ("without", "leave", "home")  # asked of one case from its own line of the plan
ORDERS = [("", "as few cases as possible, then as few moves"), ("usual", "usual cases first, then as few as possible")]


class QuestionForm(forms.Form):
    """`question` is what a valid form asks."""

    order = forms.ChoiceField(label="What counts first", choices=ORDERS, required=False, widget=forms.RadioSelect)
    van = forms.MultipleChoiceField(
        label="On these vehicles", required=False, widget=forms.CheckboxSelectMultiple(attrs=MANY),
        help_text="None ticked: those on the show's legs.",
    )  # fmt: skip
    also = forms.MultipleChoiceField(
        label="Take along as well",
        required=False,
        widget=forms.CheckboxSelectMultiple(attrs=MANY),
        help_text="A whole system.",
    )
    without = forms.MultipleChoiceField(
        label="Without these cases", required=False, widget=forms.CheckboxSelectMultiple(attrs=MANY),
        help_text="What lives in them is planned into others.",
    )  # fmt: skip
    leave = forms.MultipleChoiceField(
        label="Leave these cases behind", required=False, widget=forms.CheckboxSelectMultiple(attrs=MANY),
        help_text="With all that lives in them.",
    )  # fmt: skip
    home = forms.CharField(
        label="These things stay at home", required=False, max_length=400, help_text="Codes or serials, with commas.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )  # fmt: skip

    def __init__(self, *args: Any, show: Show, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        booked = show.bookings.filter(system__isnull=False).values("system")
        self.vehicles = {str(one): one.pk for one in vehicles_to_choose()}
        self.systems = dict(System.objects.exclude(pk__in=booked).values_list("slug", "pk"))
        self.cases = {str(one): one.pk for one in _cases(show, self.data)}
        names = dict(System.objects.values_list("slug", "name"))
        self.fields["van"].choices = [(name, name) for name in self.vehicles]
        self.fields["also"].choices = [(slug, names[slug]) for slug in self.systems]
        for field in ("without", "leave"):
            self.fields[field].choices = [(name, name) for name in self.cases]

    def clean_home(self) -> list[Item]:
        words = [word.strip() for word in re.split(r"[,;\n]", self.cleaned_data["home"]) if word.strip()]
        found = {word: item_named(word) for word in words}
        if unknown := [word for word, item in found.items() if item is None]:
            raise forms.ValidationError(f"Nothing is called {', '.join(unknown)}. Type a code or a serial.")
        return [item for item in found.values() if item is not None]

    @property
    def everyday(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in RARE]

    @property
    def rare(self) -> list[forms.BoundField]:
        return [self[name] for name in RARE]

    @property
    def asks_rarely(self) -> bool:
        """Is anything of what is folded asked, or wrong?"""
        return any(self.data.get(name) or name in self.errors for name in RARE)

    @property
    def question(self) -> Question:
        asked = self.cleaned_data
        return Question(
            vehicles=tuple(sorted(self.vehicles[name] for name in asked["van"])),
            without=tuple(sorted(self.cases[name] for name in asked["without"])),
            leave=tuple(sorted(self.cases[name] for name in asked["leave"])),
            at_home=tuple(sorted(item.pk for item in asked["home"])),
            also=tuple(sorted(self.systems[slug] for slug in asked["also"])),
            usual_first=asked["order"] == "usual",
        )


def _cases(show: Show, data: Any) -> list[Item]:
    """The cases that could be left out: the show's, and those of systems taken along."""
    also = data.getlist("also") if hasattr(data, "getlist") else []
    extra = Item.objects.in_stock().filter(type__kind="case", home_system__slug__in=also)
    booked = Item.objects.in_stock().filter(type__kind="case", pk__in=show.bookings.values("item"))
    found = {case.pk: case for case in [*cases_of(show), *extra, *booked]}
    return sorted(found.values(), key=str)
