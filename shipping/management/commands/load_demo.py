"""manage.py load_demo: fill an empty book with the demo world, or say how old the one in it is."""

from __future__ import annotations

from argparse import ArgumentParser

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError
from django.db.models import Max
from django.utils import timezone
from django.utils.timesince import timesince

from inventory.models import Entry, Item, Organisation, Person, Role
from shipping.demo.cast import PASSWORD, PEOPLE
from shipping.demo.loading import load


class Command(BaseCommand):
    help = "Load the invented demo world into an empty book."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--without", type=int, nargs="*", default=[], metavar="N", help="faults to leave out")

        parser.add_argument("--empty", action="store_true", help="only a kit manager, nothing in the book")

    def handle(self, *args: object, without: list[int], empty: bool, **options: object) -> None:
        if empty:
            self._one_kit_manager()
            return
        if Item.objects.exists():
            self._say_age()
        else:
            load(timezone.now(), without)
            self.stdout.write("The demo world is loaded: its load-out has just begun, whatever your clock says.")
        for name, (role, _, _, login) in PEOPLE.items():
            if login:
                self.stdout.write(f"  {name:<14} {role:<12} sign in as {login} with password {PASSWORD}")

    def _one_kit_manager(self) -> None:
        users = get_user_model().objects
        if not users.filter(username="ida").exists():
            firm = Organisation.objects.create(name="Lanternfold Field Pictures", is_ours=True)
            user = users.create_user("ida", password=PASSWORD)
            Person.objects.create(name="Ida Penrake", role=Role.KIT_MANAGER, user=user, organisation=firm)
        self.stdout.write(f"An empty book. Sign in as ida with password {PASSWORD}, then import your sheet.")

    def _say_age(self) -> None:
        if not Person.objects.filter(name="Ida Penrake").exists():
            raise CommandError("This book holds things already and is no demo. Name another DATABASE_URL or VAR_DIR.")
        newest = Entry.objects.aggregate(newest=Max("received_at"))["newest"]
        self.stdout.write(f"The demo world is kept as it was; its newest entry is {timesince(newest)} old.")
