"""The administrator's desk: everything can be read; only rows that a form of the book changes can be changed.

What happened and what was decided is never changed here, nor anywhere. Things are changed on their own pages, with a
reason; people, places, organisations and kinds are changed here by the same forms, and who did it is kept.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.apps import apps
from django.contrib import admin
from django.db.models import BinaryField, Field, ForeignKey, JSONField, Model, TextField
from django.forms import ModelForm, modelform_factory
from django.http import HttpRequest
from django.utils import timezone

from inventory import changing
from inventory.access import witness_of
from inventory.forms.rows import OrganisationForm, PersonForm, PlaceForm
from inventory.forms.things import ItemTypeForm
from inventory.models import ClientReference, ItemType, Organisation, Person, Place, PlaceKind

SECRET = ("token_hash",)
ACROSS = 6  # columns of a list
BY_HAND = (PlaceKind.STORE, PlaceKind.SHELF, PlaceKind.ROOM, PlaceKind.VENUE)


def shown(model: type[Model]) -> list[str]:
    """Fields a person can read: no bytes, and nothing that opens a door."""
    fields = [one for one in model._meta.concrete_fields if not isinstance(one, BinaryField)]
    return [one.name for one in fields if one.name not in SECRET]


def columns(model: type[Model]) -> list[str]:
    """The first short fields, after the row's own words."""
    names = {one.name: one for one in model._meta.concrete_fields}
    short = [name for name in shown(model) if _is_short(names[name])]
    return ["__str__", *short[:ACROSS]]


def _is_short(field: Field[Any, Any]) -> bool:
    return not isinstance(field, ForeignKey | TextField | JSONField) and not field.primary_key


class ReadOnly(admin.ModelAdmin):  # type: ignore[type-arg]  # the framework's own class takes none
    """To be looked at: nothing is added, changed or taken away."""

    show_full_result_count = False
    list_per_page = 50

    def get_list_display(self, request: HttpRequest) -> Any:
        return columns(self.model)

    def get_queryset(self, request: HttpRequest) -> Any:
        """With what `__str__` of a row may ask for, two steps away at the most."""
        return super().get_queryset(request).select_related(*_near(self.model))

    def get_fields(self, request: HttpRequest, obj: Model | None = None) -> Any:
        return shown(self.model)

    def has_add_permission(self, request: HttpRequest, *args: Any) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


def _near(model: type[Model]) -> list[str]:
    near = [one for one in model._meta.concrete_fields if isinstance(one, ForeignKey)]
    further = [
        f"{one.name}__{other.name}" for one in near for other in one.related_model._meta.concrete_fields
        if isinstance(other, ForeignKey) and other.name in ("type", "item", "home_set", "show")
    ]  # fmt: skip
    return [*(one.name for one in near), *further]


class Kept(admin.ModelAdmin):  # type: ignore[type-arg]  # the framework's own class takes none
    """Changed by the book's own form; each change is kept with who and when. Taken away by nobody."""

    list_per_page = 50

    def get_fields(self, request: HttpRequest, obj: Model | None = None) -> Any:
        return list(self.get_form(request, obj, fields=None).base_fields)

    def save_form(self, request: HttpRequest, form: ModelForm[Any], change: bool) -> Any:
        """The row is written with its history in one step; what the framework does afterwards finds it saved."""
        return changing.save(form, by=witness_of(request).name, at=timezone.now())

    def save_model(self, request: HttpRequest, obj: Model, form: ModelForm[Any], change: bool) -> None:
        """Saved already, with its history."""

    def save_related(self, request: HttpRequest, form: ModelForm[Any], formsets: Any, change: bool) -> None:
        """Saved already: no row here has others below it."""

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


@admin.register(Organisation)
class OrganisationAdmin(Kept):
    form = OrganisationForm
    list_display = ("name", "phone", "is_ours")
    search_fields = ("name",)


@admin.register(Person)
class PersonAdmin(Kept):
    """Here an administrator also says which sign-in is whose."""

    form = modelform_factory(Person, PersonForm, fields=(*PersonForm.Meta.fields, "user"))
    list_display = ("name", "role", "organisation", "phone", "user")
    list_filter = ("role",)
    search_fields = ("name", "email")
    list_select_related = ("organisation", "user")


@admin.register(Place)
class PlaceAdmin(Kept):
    form = PlaceForm
    list_display = ("name", "kind", "purpose", "parent", "is_ours")
    list_filter = ("kind", "purpose")
    search_fields = ("name",)
    list_select_related = ("parent",)

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        """Insides of cases, hands, roads and what is gone are made by the book itself."""
        fixed = obj is None or (isinstance(obj, Place) and obj.kind in BY_HAND)
        return fixed and super().has_change_permission(request, obj)


@admin.register(ItemType)
class ItemTypeAdmin(Kept):
    form = ItemTypeForm
    list_display = ("name", "maker", "kind", "mass_kg")
    list_filter = ("kind",)
    search_fields = ("name", "maker")


@admin.register(ClientReference)
class ClientReferenceAdmin(Kept):
    """Which client sees which show: given and taken away, both kept."""

    list_display = ("person", "reference")
    search_fields = ("person__name", "reference")
    list_select_related = ("person",)
    form = modelform_factory(ClientReference, fields=("person", "reference"))

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return obj is None

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return admin.ModelAdmin.has_delete_permission(self, request, obj)

    def delete_model(self, request: HttpRequest, obj: Model) -> None:
        changing.remove(obj, by=witness_of(request).name, at=timezone.now())

    def delete_queryset(self, request: HttpRequest, queryset: Iterable[Model]) -> None:
        for row in queryset:
            self.delete_model(request, row)


def register_read_only(models: Iterable[type[Model]]) -> None:
    """Every model that nothing was said of is there to be read."""
    for model in models:
        if not admin.site.is_registered(model):
            admin.site.register(model, ReadOnly)


register_read_only(apps.get_app_config("inventory").get_models())
