"""The wipe bench: begin, stop, fail, verify. Nothing begins unless the answer is YES, drive by drive."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid4

from django.db import transaction

from inventory.answers.benching import lacking_of
from inventory.answers.drive_loading import book_for
from inventory.answers.values import Reason
from inventory.answers.wiping import WipeAnswer, WipeBook, answer_drive, open_book
from inventory.deciding import Refused, lock, must_be_drives, said
from inventory.ledger import Witness
from inventory.models import DriveSet, Item, Release, Wipe


@dataclass(frozen=True, slots=True)
class Method:
    """How it is wiped. The three classes are those of NIST SP 800-88: clear, purge, destroy."""

    method: str
    technique: str
    tool: str
    destination: str = ""
    place_words: str = ""
    held_before: str = ""


@transaction.atomic
def begin(
    drives: Sequence[Item], how: Method, *, by: Witness, at: datetime, drive_set: DriveSet | None = None,
    release: Release | None = None,
) -> list[Wipe]:  # fmt: skip
    """Begin a wipe of these drives, each scanned. With `drive_set` all of it must be here; with `release`, on it."""
    must_be_drives(drives)
    said(how.technique, "the technique: the command or the pattern that is used")
    moment = lock(drives, at)
    sets = [drive_set.pk] if drive_set else []
    wipe_book = open_book(book_for(drives=[drive.pk for drive in drives], sets=sets), moment)
    if drive_set is not None:
        _all_here(wipe_book, drive_set, drives)
    if release is not None:
        _all_listed(release, drives)
    answers = {drive.pk: answer_drive(wipe_book, drive.pk) for drive in drives}
    _all_yes(answers, how)
    _not_the_one_who_entered(answers, by)
    job = uuid4()
    return Wipe.objects.bulk_create(
        Wipe(
            job=job, drive=drive, step=Wipe.Step.BEGUN, method=how.method, technique=how.technique[:120],
            tool=how.tool[:120], destination=how.destination[:60], place_words=how.place_words[:120],
            held_before=how.held_before[:120], answer_at_step=answers[drive.pk].answer, entered_by=by.name,
            entered_at=moment,
        )
        for drive in drives
    )  # fmt: skip


def _all_here(wipe_book: WipeBook, drive_set: DriveSet, drives: Sequence[Item]) -> None:
    reasons = lacking_of(wipe_book, drive_set, drives)
    if reasons:
        raise Refused(f"{drive_set} is not whole on the bench. {reasons[0].sentence} Nothing has begun.", reasons)


def _all_listed(release: Release, drives: Sequence[Item]) -> None:
    """Each scanned drive against the release that the bench works from."""
    listed = {row.drive_id for row in release.serials.all()}
    strange = [drive for drive in drives if drive.pk not in listed]
    if strange:
        reasons = [
            Reason("not on the release", f"{one} is not among the serials of the {release}.",
                   "Put it aside, or ask for a release that lists its serial.", items=(one.pk,))
            for one in strange
        ]  # fmt: skip
        raise Refused(f"{reasons[0].sentence} Nothing has begun.", reasons)


def _all_yes(answers: dict[int, WipeAnswer], how: Method) -> None:
    destroys = how.method == Wipe.Method.DESTROY
    refused = [one for one in answers.values() if one.answer != "YES" and not (destroys and one.may_destroy)]
    if refused:
        reasons = [
            Reason(r.word, f"{one.subject}: {r.sentence}", r.way_out, r.entries, r.items)
            for one in refused
            for r in one.reasons
        ]
        raise Refused(f"{refused[0].sentence} Nothing has begun.", reasons)


def _not_the_one_who_entered(answers: dict[int, WipeAnswer], by: Witness) -> None:
    """Who enters a release does not operate the wipe."""
    relied_on = {release for one in answers.values() for held in one.content for release in held.releases}
    entered = Release.objects.filter(pk__in=relied_on, entered_by=by.name).first()
    if entered is not None:
        raise Refused(f"You entered the {entered}. Somebody else must operate this wipe.")


def stop_all(job: UUID, why: str, *, by: Witness, at: datetime) -> list[Wipe]:
    """Stop everything of this job that is still under way: exactly these serials had begun."""
    open_ones = list(Item.objects.filter(pk__in=under_way(job)).select_related("type").order_by("serial"))
    if not open_ones:
        raise Refused("Nothing of this wipe is under way any more. Look at its record.")
    with transaction.atomic():
        lock(open_ones, at)
        return [stop(job, drive, why, by=by, at=at) for drive in open_ones]


@transaction.atomic
def stop(job: UUID, drive: Item, why: str, *, by: Witness, at: datetime) -> Wipe:
    """End a wipe before it is done. The drive is never blank by it."""
    return _end(job, drive, Wipe.Step.STOPPED, said(why, "why it was stopped"), by=by, at=at)


@transaction.atomic
def fail(job: UUID, drive: Item, why: str, *, by: Witness, at: datetime) -> Wipe:
    """Say that a wipe failed. The drive is suspect: content may still be readable."""
    return _end(job, drive, Wipe.Step.FAILED, said(why, "what failed"), by=by, at=at)


@transaction.atomic
def verify(job: UUID, drive: Item, verification: str, *, by: Witness, at: datetime) -> Wipe:
    """A second person has read it back. Counts only if the answer, this wipe aside, is still YES."""
    how = said(verification, "how it was verified: all of it read back, or which sample")
    moment = lock([drive], at)
    begun = _under_way(job, drive)
    if begun.entered_by == by.name:
        raise Refused("You operated this wipe. A second person must verify it.")
    wipe_book = open_book(book_for(drives=[drive.pk]), moment)
    answer = answer_drive(wipe_book.without(job), drive.pk)
    if answer.answer != "YES" and not (begun.method == Wipe.Method.DESTROY and answer.may_destroy):
        sentence = f"It may not count as wiped. {answer.sentence} Stop the wipe and keep the drive apart."
        raise Refused(sentence, answer.reasons)
    return _step(begun, Wipe.Step.VERIFIED, how, by, moment, answer.answer)


def _end(job: UUID, drive: Item, step: str, words: str, *, by: Witness, at: datetime) -> Wipe:
    moment = lock([drive], at)
    return _step(_under_way(job, drive), step, words, by, moment)


def under_way(job: UUID) -> list[int]:
    """The drives of a wipe that it has neither ended nor failed for yet."""
    rows = list(Wipe.objects.filter(job=job).order_by("pk").values_list("drive", "step"))
    ended = {drive for drive, step in rows if step != Wipe.Step.BEGUN}
    return [drive for drive, step in rows if step == Wipe.Step.BEGUN and drive not in ended]


def newest_jobs(most: int) -> list[tuple[UUID, list[Wipe]]]:
    """The newest wipes, each with its begun rows; those still under way first. `ended` says how each row ended."""
    rows = Wipe.objects.filter(step=Wipe.Step.BEGUN).select_related("drive__type").order_by("-pk")[: most * 8]
    found: dict[UUID, list[Wipe]] = {}
    for row in rows:
        found.setdefault(row.job, []).append(row)
    ends = Wipe.objects.filter(job__in=found).exclude(step=Wipe.Step.BEGUN).values_list("job", "drive", "step")
    ended = {(job, drive): step for job, drive, step in ends}
    jobs = list(found.items())[:most]
    for _, drives in jobs:
        for row in drives:
            row.ended = ended.get((row.job, row.drive_id), "")
    return sorted(jobs, key=lambda job: all(row.ended for row in job[1]))


def _under_way(job: UUID, drive: Item) -> Wipe:
    steps = {row.step: row for row in Wipe.objects.filter(job=job, drive=drive)}
    if Wipe.Step.BEGUN not in steps:
        raise Refused(f"No wipe of {drive} has begun. Begin one first.")
    if len(steps) > 1:
        ended = next(step for step in steps if step != Wipe.Step.BEGUN)
        raise Refused(f"This wipe of {drive} is over: {ended}.")
    return steps[Wipe.Step.BEGUN]


def _step(begun: Wipe, step: str, words: str, by: Witness, at: datetime, answer: str = "") -> Wipe:
    return Wipe.objects.create(
        job=begun.job, drive=begun.drive, step=step, method=begun.method, technique=begun.technique, tool=begun.tool,
        destination=begun.destination, place_words=begun.place_words, held_before=begun.held_before,
        verification=words[:120], answer_at_step=answer, entered_by=by.name, entered_at=at,
    )  # fmt: skip
