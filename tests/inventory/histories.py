"""A small language for what happens to drives, so that a table of histories reads like a logbook.

Each line is `HOUR ACT WORDS...`, hours after T0; drives are letters, everyone else has a first name. A line is
told when it happens, unless `HOUR@TOLD` gives the hour at which somebody said so afterwards.
"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from inventory import ledger
from inventory.answers.wiping import WipeAnswer, wipe_answer, wipe_answer_of_show
from inventory.ledger import Fact, Witness
from inventory.models import (
    Acceptance,
    Copy,
    CopySerial,
    DriveSet,
    Hold,
    HoldLift,
    Item,
    Kind,
    Mandate,
    MandatePerson,
    Organisation,
    Person,
    Place,
    PlaceKind,
    Release,
    ReleaseSerial,
    Role,
    Verb,
    Wipe,
    Withdrawal,
)
from inventory.registering import inside_of
from tests.factories import T0, make_case, make_drive, make_owner, make_place, make_set, make_system
from tests.factories import make_case_type as container_type

ROLES = {
    "Ida": Role.KIT_MANAGER, "Mara": Role.KIT_MANAGER, "Ana": Role.ROAD_LEAD, "Tomas": Role.STAFF, "Wes": Role.CREW,
    "Jo": Role.CLIENT, "Steward": Role.CLIENT,
}  # fmt: skip


class History:
    """One small world: set HERON-1 of Heron, its frame, a box, two stores, and whoever the lines name."""

    def __init__(self) -> None:
        self.heron, self.curlew = make_system("Heron"), make_system("Curlew")
        self.frames = {"frame": self._frame("HER-01", self.heron), "sister": self._frame("CUR-01", self.curlew)}
        self.sets = {
            "HERON-1": make_set("HERON-1", host=self.heron),
            "CURLEW-1": make_set("CURLEW-1", host=self.curlew),
        }
        self.box = make_case("HER-03", slots_of_box())
        self.places = {"Mill": make_place("Mill Yard"), "Quay": make_place("Quay Unit"), "box": inside_of(self.box)}
        self.places["archive"] = make_place("Carrowmere archive", PlaceKind.ROOM)
        self.places["gone"] = make_place("gone", PlaceKind.GONE)
        self.places |= {name: inside_of(frame) for name, frame in self.frames.items()}
        self.drives: dict[str, Item] = {}
        self.acts: dict[str, uuid.UUID] = {}
        self.releases: list[Release] = []
        self.holds: list[Hold] = []
        self.copy_rows: list[Copy] = []
        self.jobs: dict[str, uuid.UUID] = {}
        self.now = T0
        self.told = T0

    def _frame(self, number: str, system) -> Item:
        return make_case(number, container_type(f"Ebbmark {number}", "A B C D", kind=Kind.FRAME), home_system=system)

    def drive(self, letter: str) -> Item:
        if letter not in self.drives:
            self.drives[letter] = make_drive(f"71B0{letter}K")
            self.fact(Verb.PLACED, self.drives[letter], place=self.places["Mill"], when=T0 - timedelta(days=30))
        return self.drives[letter]

    def person(self, name: str) -> Person:
        firm = "Glasswright Trust" if ROLES.get(name) == Role.CLIENT else "Lanternfold Field Pictures"
        fields = {"role": ROLES.get(name, Role.STAFF), "organisation": make_owner(firm)}
        return Person.objects.get_or_create(name=name, defaults=fields)[0]

    def hands(self, name: str) -> Place:
        person = self.person(name)
        return Place.objects.get_or_create(person=person, defaults={"name": name, "kind": PlaceKind.PERSON})[0]

    def place(self, name: str) -> Place:
        return self.places[name] if name in self.places else self.hands(name)

    def fact(self, verb: str, thing=None, *, by: str = "Tomas", when: datetime | None = None, **more) -> None:
        happened = when or self.now
        fact = Fact(verb, thing, happened_at=happened, stated=self.told != self.now and when is None, **more)
        witness = Witness(by, ROLES.get(by, Role.STAFF))
        entry = ledger.record([fact], by=witness, at=max(self.told, happened))[0]
        self.acts[verb] = self.acts[f"{verb} {getattr(thing, 'serial', '')[-2:-1]}".strip()] = entry.act

    def tell(self, story: str) -> History:
        for line in story.strip().splitlines():
            words = line.split("#")[0].split()
            if words:
                self._line(*words)
        return self

    def _line(self, hour: str, act: str, *words: str) -> None:
        happened, _, told = hour.partition("@")
        self.now = T0 + timedelta(hours=float(happened))
        self.told = T0 + timedelta(hours=float(told)) if told else self.now
        getattr(self, f"do_{act}")(*words)

    # What was done to drives: entries of the ledger.
    def do_new(self, letter: str) -> None:
        self.drive(letter)

    def do_blank(self, letters: str, by: str = "Ida", how: str = "read back empty") -> None:
        for letter in letters:
            self.fact(Verb.DECLARED_BLANK, self.drive(letter), by=by, note=how)

    def do_blank_unsaid(self, letter: str) -> None:
        self.fact(Verb.DECLARED_BLANK, self.drive(letter), by="Ida")

    def do_given(self, letter: str, reference: str, by: str = "Ida") -> None:
        self.fact(Verb.CONTENT_GIVEN, self.drive(letter), by=by, reference=reference)

    def do_join(self, letters: str, name: str = "HERON-1") -> None:
        for letter in letters:
            self.fact(Verb.JOINED, self.drive(letter), drive_set=self.sets[name], bay=letter)

    def do_drop(self, letters: str, name: str = "HERON-1") -> None:
        for letter in letters:
            self.fact(Verb.DROPPED, self.drive(letter), drive_set=self.sets[name])

    def do_fit(self, letters: str, frame: str = "frame") -> None:
        for letter in letters:
            self.fact(Verb.FITTED, self.drive(letter), place=self.places[frame], bay=letter)

    def do_pull(self, letters: str, to: str = "Mill") -> None:
        for letter in letters:
            self.fact(Verb.PULLED, self.drive(letter), place=self.place(to))

    def do_put(self, letters: str, to: str, by: str = "Tomas") -> None:
        for letter in letters:
            self.fact(Verb.PLACED, self.drive(letter), place=self.place(to), by=by)

    def do_record(self, what: str = "", reference: str = "", by: str = "Tomas") -> None:
        self._run(Verb.RECORDING, what, reference, by)

    def do_stop(self, what: str = "", reference: str = "") -> None:
        self._run(Verb.STOPPED, what, reference)

    def _run(self, verb: str, what: str, reference: str, by: str = "Tomas") -> None:
        reference = "" if reference == "-" else reference
        thing = self.frames.get(what)
        self.fact(verb, thing, drive_set=self.sets.get(what), reference=reference, by=by)

    def do_hand(self, letters: str, to: str, by: str = "Tomas") -> None:
        for letter in letters:
            self.fact(Verb.HANDED_OVER, self.drive(letter), place=self.hands(to), person=self.person(to), by=by)

    def do_receive(self, letters: str, giver: str, to: str = "Mill", by: str = "Wes") -> None:
        for letter in letters:
            self.fact(Verb.RECEIVED, self.drive(letter), place=self.place(to), person=self.person(giver), by=by)

    def do_miss(self, letter: str) -> None:
        self.fact(Verb.MISSED, self.drive(letter))

    def do_find(self, letter: str) -> None:
        self.fact(Verb.FOUND, self.drive(letter), place=self.places["Mill"])

    def do_fault(self, letter: str) -> None:
        self.fact(Verb.FAULTED, self.drive(letter), note="shock indicator red")

    def do_health(self, letter: str, value: str = "good") -> None:
        self.fact(Verb.CHECKED, self.drive(letter), rule="health", value=value)

    def do_foreign(self, letter: str) -> None:
        self.fact(Verb.FOREIGN, self.drive(letter), note="came back in a strange box")

    def do_serial(self, letter: str, serial: str) -> None:
        self.fact(Verb.SERIAL_READ, self.drive(letter), serial=serial)

    def do_scrap(self, letter: str) -> None:
        self.fact(Verb.WRITTEN_OFF, self.drive(letter), place=self.places["gone"], by="Ida")

    def do_erased(self, letter: str) -> None:
        self.fact(Verb.ERASED, self.drive(letter))

    def do_worn(self, letter: str) -> None:
        self.amend(letter, serial_unreadable_since=self.now)

    def do_read(self, letter: str) -> None:
        self.amend(letter, serial_unreadable_since=None)

    def do_owner(self, letter: str, name: str) -> None:
        self.amend(letter, owner=make_owner(name))

    def amend(self, letter: str, **changes) -> None:
        ledger.amend(self.drive(letter), "looked at it", by=Witness("Tomas", Role.STAFF), at=self.now, **changes)

    def do_breakup(self, name: str = "HERON-1") -> None:
        self.fact(Verb.BROKEN_UP, drive_set=self.sets[name], by="Ida", note="the rest stays with the client")

    def do_seal(self, number: str) -> None:
        self.fact(Verb.SEALED, self.box, seal=number, by="Ana")

    def do_sealseen(self, number: str) -> None:
        self.fact(Verb.SEEN, self.box, seal=number, by="Ana")

    def do_undo(self, *words: str) -> None:
        by = words[-1] if words[-1] in ROLES else "Ida"
        verb = " ".join(word for word in words if word not in ROLES)
        ledger.correct(self.acts[verb], reason="wrong", by=Witness(by, ROLES[by]), at=self.now)

    def do_name(self, letter: str, reference: str) -> None:
        from inventory.models import Entry

        entry = Entry.objects.get(act=self.acts[Verb.RECORDING])
        more = {"field": "content of", "before": str(entry.pk), "after": reference}
        self.fact(Verb.AMENDED, self.drive(letter), by="Ida", **more)

    # What was decided: rows that are only added.
    def do_mandate(self, reference: str, *words: str) -> None:
        counts = [int(word) for word in words if word.isdigit()] or [2, 2, 1]
        names = [word for word in words if word in ROLES]
        owner = next((word for word in words if word.startswith("of:")), "of:Glasswright Trust")[3:]
        row = Mandate.objects.create(
            reference=reference, content_owner=Organisation.objects.get_or_create(name=owner)[0],
            copies=counts[0], media=counts[1], elsewhere=counts[2], entered_by="Ida", entered_at=self.now,
            owners_document="letter 12" if "letter" in words else "", in_force_from=self.now,
        )  # fmt: skip
        for name in names:
            MandatePerson.objects.create(mandate=row, person=self.person(name), why="producer")

    def do_release(self, reference: str, letters: str, by: str = "Jo", *more: str) -> None:
        row = Release.objects.create(
            reference=reference, person=self.person(by), evidence="letter 7", date=self.now, entered_by="Tomas",
            entered_at=self.told, no_copies_wanted="no-copies" in more, drive_set=self.sets.get(letters),
        )  # fmt: skip
        if letters not in self.sets:
            for letter in letters:
                ReleaseSerial.objects.create(release=row, drive=self.drive(letter))
        self.releases.append(row)

    def do_withdraw(self) -> None:
        Withdrawal.objects.create(
            release=self.releases[-1], why="a reshoot is asked", entered_by="Ida", entered_at=self.now
        )

    def do_hold(self, what: str) -> None:
        subject = {"drive": self.drives[what]} if what in self.drives else {"drive_set": self.sets.get(what)}
        reference = "" if what in self.drives or what in self.sets else what
        self.holds.append(
            Hold.objects.create(
                **subject, reference=reference, why="insurance claim", entered_by="Ida", entered_at=self.now
            )
        )

    def do_lift(self) -> None:
        HoldLift.objects.create(hold=self.holds[-1], why="claim paid", entered_by="Ida", entered_at=self.now)

    def do_copy(self, reference: str, letters: str, medium: str, place: str = "", *more: str) -> None:
        verified = None if "unverified" in more else self.now
        row = Copy.objects.create(
            reference=reference, made_at=self.now, medium=medium, verified_at=verified, verified_how="checksums",
            verified_by="Tomas", entered_by="Tomas", entered_at=self.now, reported_bad="bad" in more,
            place=self.places.get(place), on_drive=self.drive(place) if len(place) == 1 else None,
        )  # fmt: skip
        CopySerial.objects.bulk_create(CopySerial(copy=row, drive=self.drive(letter)) for letter in letters)
        self.copy_rows.append(row)

    def do_copies(self, reference: str, letters: str) -> None:
        self.do_copy(reference, letters, "tape", "archive")
        self.do_copy(reference, letters, "disk", "Mill")

    def do_badcopy(self, reference: str, letters: str) -> None:
        row = self.copy_rows[-1]
        Copy.objects.create(
            reference=reference, made_at=row.made_at, medium=row.medium, place=row.place, verified_at=row.verified_at,
            reported_bad=True, replaces=row, entered_by="Tomas", entered_at=self.now,
        )  # fmt: skip

    def do_wipe(self, letter: str, step: str, by: str = "Tomas", method: str = "purge") -> None:
        if step == "begun":
            self.jobs[letter] = uuid.uuid4()
        Wipe.objects.create(
            job=self.jobs[letter], drive=self.drive(letter), step=step, method=method, entered_by=by,
            entered_at=self.now, answer_at_step=self.answer(letter).answer if step == "begun" else "",
        )  # fmt: skip

    def do_accept(self, letter: str, by: str = "Ida") -> None:
        for doubt in self.answer(letter).doubts:
            Acceptance.objects.create(
                drive=self.drive(letter), doubt=doubt.word, digest=doubt.digest, why="asked the operator",
                entered_by=by, entered_at=self.now,
            )  # fmt: skip

    def answer(self, what: str) -> WipeAnswer:
        at = max(self.now, self.told)
        if what in self.sets:
            return wipe_answer(DriveSet.objects.get(name=what), at)
        if len(what) == 3:
            return wipe_answer_of_show(what, at)
        return wipe_answer(self.drive(what), at)


def slots_of_box():
    return container_type("Drive box", "A B C D", "pocket")
