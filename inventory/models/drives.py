"""What was decided about content: releases, holds, copies, wipes, acceptances. Rows are only added."""

from __future__ import annotations

from django.db import models

from inventory.models.appendonly import AppendOnly
from inventory.models.people import Person
from inventory.models.places import Place
from inventory.models.things import DriveSet, Item


class Decided(AppendOnly):
    """Who entered a decision, and when it was committed."""

    entered_by = models.CharField(max_length=120)
    entered_at = models.DateTimeField()

    class Meta:
        abstract = True


class Release(Decided):
    """The owner's word that a show's content on exactly these serials is no longer needed."""

    reference = models.CharField(max_length=30, db_index=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="releases")
    evidence = models.CharField(max_length=250)
    date = models.DateTimeField()
    drive_set = models.ForeignKey(
        DriveSet, models.PROTECT, null=True, blank=True, help_text="Names a set only: never enough by itself."
    )
    no_copies_wanted = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"release of {self.reference} by {self.person}"


class ReleaseSerial(AppendOnly):
    release = models.ForeignKey(Release, models.PROTECT, related_name="serials")
    drive = models.ForeignKey(Item, models.PROTECT, related_name="releases")

    def __str__(self) -> str:
        return f"{self.release}: {self.drive}"


class Withdrawal(Decided):
    """The one thing that ends a release."""

    release = models.OneToOneField(Release, models.PROTECT, related_name="withdrawal")
    why = models.CharField(max_length=250)

    def __str__(self) -> str:
        return f"withdrawn: {self.release}"


class Hold(Decided):
    """Nobody wipes or returns, whatever else is true."""

    drive = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="holds")
    drive_set = models.ForeignKey(DriveSet, models.PROTECT, null=True, blank=True, related_name="holds")
    reference = models.CharField(max_length=30, blank=True)
    why = models.CharField(max_length=250)

    def __str__(self) -> str:
        return f"hold on {self.drive or self.drive_set or self.reference}"


class HoldLift(Decided):
    hold = models.OneToOneField(Hold, models.PROTECT, related_name="lift")
    why = models.CharField(max_length=250)

    def __str__(self) -> str:
        return f"lifted: {self.hold}"


class Copy(Decided):
    """A copy of a show's content made after its last recording. A later row about it names it."""

    reference = models.CharField(max_length=30, db_index=True)
    made_at = models.DateTimeField()
    medium = models.CharField(max_length=60)
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="copies")
    place_words = models.CharField(max_length=200, blank=True)
    on_drive = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="copies_on_it")
    verified_at = models.DateTimeField(null=True, blank=True)
    verified_how = models.CharField(max_length=120, blank=True)
    verified_by = models.CharField(max_length=120, blank=True)
    reported_bad = models.BooleanField(default=False)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")
    note = models.CharField(max_length=250, blank=True)

    def __str__(self) -> str:
        return f"copy of {self.reference} on {self.medium}"


class CopySerial(AppendOnly):
    copy = models.ForeignKey(Copy, models.PROTECT, related_name="serials")
    drive = models.ForeignKey(Item, models.PROTECT, related_name="copies")

    def __str__(self) -> str:
        return f"{self.copy}: {self.drive}"


class Wipe(Decided):
    """One step of a wipe of one drive. Steps of one wipe share `job`."""

    class Step(models.TextChoices):
        BEGUN = "begun", "begun"
        STOPPED = "stopped", "stopped"
        FAILED = "failed", "failed"
        VERIFIED = "verified", "verified"

    class Method(models.TextChoices):
        CLEAR = "clear", "clear"
        PURGE = "purge", "purge"
        DESTROY = "destroy", "destroy"

    job = models.UUIDField(db_index=True)
    drive = models.ForeignKey(Item, models.PROTECT, related_name="wipes")
    step = models.CharField(max_length=8, choices=Step)
    method = models.CharField(max_length=8, choices=Method)
    technique = models.CharField(max_length=120, blank=True)
    tool = models.CharField(max_length=120, blank=True)
    verification = models.CharField(max_length=120, blank=True)
    destination = models.CharField(max_length=60, blank=True, default="", help_text="Where the drive goes after it.")
    place_words = models.CharField(max_length=120, blank=True, default="", help_text="Where it was done.")
    held_before = models.CharField(max_length=120, blank=True, default="", help_text="How what was on it was classed.")
    answer_at_step = models.CharField(max_length=12, blank=True, help_text="YES, NO or NOT KNOWN as it stood then.")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["job", "drive", "step"], name="one_step_per_wipe")]

    def __str__(self) -> str:
        return f"wipe of {self.drive} {self.step}"


class ReleaseRequest(Decided):
    """What somebody was asked to release: the letter as it was drafted, for exactly these serials."""

    reference = models.CharField(max_length=30, db_index=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="asked_to_release")
    text = models.TextField()

    def __str__(self) -> str:
        return f"{self.person} asked to release {self.reference}"


class RequestSerial(AppendOnly):
    request = models.ForeignKey(ReleaseRequest, models.PROTECT, related_name="serials")
    drive = models.ForeignKey(Item, models.PROTECT, related_name="requests")

    def __str__(self) -> str:
        return f"{self.request}: {self.drive}"


class RequestAnswer(Decided):
    """What came back. A yes is a release of its own, named here; a no or a "not yet" keeps its words."""

    class Word(models.TextChoices):
        YES = "yes", "yes, released"
        NO = "no", "no"
        LATER = "later", "not yet"

    request = models.ForeignKey(ReleaseRequest, models.PROTECT, related_name="answers")
    word = models.CharField(max_length=5, choices=Word)
    words = models.CharField(max_length=250)
    release = models.OneToOneField(Release, models.PROTECT, null=True, blank=True, related_name="answer")

    def __str__(self) -> str:
        return f"{self.request}: {self.word}"


class HashListCheck(Decided):
    """What the check of an uploaded media hash list found, kept as it was found."""

    class Result(models.TextChoices):
        GOOD = "good", "agrees"
        LIST_ONLY = "list only", "the list agrees with itself; files not looked at"
        DIFFERS = "differs", "differs"

    copy = models.ForeignKey(Copy, models.PROTECT, null=True, blank=True, related_name="hash_lists")
    reference = models.CharField(max_length=30, db_index=True)
    folder = models.CharField(max_length=200, blank=True, help_text="The folder below COPIES_DIR that was read.")
    result = models.CharField(max_length=9, choices=Result)
    generations = models.PositiveSmallIntegerField()
    files = models.PositiveIntegerField(help_text="Files that the lists name.")
    read = models.PositiveIntegerField(default=0, help_text="Files that were read and compared.")
    digest = models.CharField(max_length=64, help_text="SHA-256 over what was uploaded.")
    report = models.TextField(help_text="Each finding on a line.")

    def __str__(self) -> str:
        return f"hash list of {self.reference}: {self.result}"


class Acceptance(Decided):
    """A kit manager who did not make a doubt accepts it as it stood then."""

    drive = models.ForeignKey(Item, models.PROTECT, related_name="acceptances")
    doubt = models.CharField(max_length=60)
    digest = models.CharField(max_length=64)
    why = models.CharField(max_length=250)

    def __str__(self) -> str:
        return f"{self.doubt} of {self.drive} accepted"
