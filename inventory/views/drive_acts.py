"""One act on the drives of a set: its form, its sentence, and back to the set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory import asking, bench, copy_checks, copying, doubts, drive_sets, hands, holding, photos, releasing
from inventory.access import ANYONE, CREW, HOUSE, KIT, LEADS, allow, role_of, witness_of
from inventory.bench import Method
from inventory.client_drives import client_page, references_of
from inventory.copying import Carrier
from inventory.deciding import Refused
from inventory.drive_pages import set_page
from inventory.drive_records import client_scope_of, scope_of
from inventory.drive_sets import Swap, When
from inventory.forms import asking as ask_forms
from inventory.forms import drives as the_forms
from inventory.forms import hands as hand_forms
from inventory.forms.drives import Scope
from inventory.hands import Handing
from inventory.ledger import LedgerRefusal, Witness
from inventory.models import DriveSet, HashListCheck, Item, Kind, Place, Role
from inventory.releasing import Promise

Data = dict[str, Any]
Do = Callable[[Any, Data, Witness, datetime], object]
CLIENTS = (Role.CLIENT,)


@dataclass(frozen=True, slots=True)
class DriveAct:
    """A page with one form about a set's drives: its words, who may, and what it does."""

    key: str
    group: str
    title: str
    button: str
    form: type[the_forms.AboutDrives]
    do: Do
    done: str
    roles: tuple[str, ...] = KIT
    warning: str = ""

    def can(self, scope: Scope) -> bool:
        """Is there anything to do it to? Only then does a page offer it."""
        needed = NEEDS.get(self.key)
        return needed is None or bool(getattr(scope, needed))


def when_of(data: Data) -> When:
    return When(data.get("reference", "").upper(), data.get("happened_at"), data.get("note", ""))


def _record(one: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return drive_sets.start_recording(one, by=by, at=at, when=when_of(data))


def _stop(one: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return drive_sets.stop_recording(one, by=by, at=at, when=when_of(data))


def _join(one: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return drive_sets.join(data["drive"], one, data["bay"], by=by, at=at, when=when_of(data))


def _drop(one: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return drive_sets.drop(data["drive"], one, by=by, at=at, when=when_of(data))


def _fit(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return drive_sets.fit(data["drive"], data["frame"], data["bay"], by=by, at=at, when=when_of(data))


def _pull(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return drive_sets.pull(data["drive"], data["place"], by=by, at=at, when=when_of(data))


def _swap(one: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    frame = Place.objects.filter(holdings__item=data["out"], item__type__kind=Kind.FRAME).first()
    swap = Swap(data["out"], data["into"], data["bay"], data["place"], frame, data["suspect"])
    return drive_sets.swap(swap, one, by=by, at=at, when=when_of(data))


def _give(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return drive_sets.give_content(data["drives"], data["reference"].upper(), data["note"], by=by, at=at)


def _name(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    drive, _, recording = data["recording"].partition(":")
    item = Item.objects.get(pk=drive)
    return doubts.name_content(UUID(recording), item, data["reference"].upper(), data["why"], by=by, at=at)


def _accept(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    for choice in data["doubts"]:
        drive, _, digest = choice.partition(":")
        doubts.accept(Item.objects.select_related("type").get(pk=drive), digest, data["why"], by=by, at=at)
    return None


def _mandate(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    promise = Promise(data["copies"], data["media"], data["elsewhere"], data["owners_document"])
    return releasing.enter_mandate(
        data["reference"].upper(), data["owner"], data["persons"], data["why"], by=by, at=at, promise=promise
    )


def _release(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return releasing.release(
        data["reference"].upper(), data["drives"], data["person"], data["evidence"], by=by, at=at,
        no_copies_wanted=data["no_copies_wanted"],
    )  # fmt: skip


def _release_own(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    evidence = f"released by {by.name} herself or himself, signed in"
    return releasing.release(
        data["reference"], data["drives"], by.user.person, evidence, by=by, at=at,
        no_copies_wanted=data["no_copies_wanted"],
    )  # fmt: skip


def _ask(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return asking.ask(data["reference"].upper(), data["drives"], data["person"], data["text"], by=by, at=at)


def _hold(one: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    kind, _, rest = data["what"].partition(":")
    subject = {"drive": lambda: Item.objects.get(pk=rest), "show": lambda: rest}.get(kind, lambda: one)()
    return holding.hold(subject, data["why"], by=by, at=at)


def _copy(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    carrier = Carrier(data["medium"], data["place"], data["place_words"], data["on_drive"])
    row = copying.add_copy(
        data["reference"].upper(), data["drives"], carrier, by=by, at=at, made_at=data["made_at"], note=data["note"]
    )
    return copying.verify_copy(row, data["verified_how"], by=by, at=at) if data["verified_how"] else row


def _verified(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    who, when = data["verified_by"], data["verified_at"]
    return copying.verify_copy(data["copy"], data["words"], by=by, at=at, verified_by=who, verified_at=when)


def _hash_list(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return copy_checks.check_copy(data["copy"], data["files"], data["folder"], by=by, at=at)


def _handing(data: Data, by: Witness, at: datetime) -> Handing:
    drawn = (
        photos.keep(BytesIO(data["signature"]), by=data["signed_by"] or by.name, at=at) if data["signature"] else None
    )
    photo = photos.keep(data["photo"], by=by.name, at=at) if data["photo"] else None
    told = {name: data[name] for name in ("condition", "seal", "note", "signed_by")}
    return Handing(data.get("purpose", ""), data.get("due_at"), drawn=drawn, photo=photo, **told)


def _hand_over(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    return hands.hand_over(data["drives"], data["person"], _handing(data, by, at), by=by, at=at, giver=data["giver"])


def _receive(one: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    giver = data["giver"]
    if data["drives"]:
        hands.receive(data["drives"], data["place"], giver, _handing(data, by, at), by=by, at=at)
    why = f"came with the drives of {one}" + (f", from {giver}" if giver else "") + ", and was not due"
    return [hands.take_foreign(serial, giver, why, by=by, at=at) for serial in data["others"]]


def _begin(one: DriveSet, data: Data, by: Witness, at: datetime) -> object:
    how = Method(data["method"], data["technique"], data["tool"])
    return bench.begin(data["drives"], how, by=by, at=at, drive_set=one if data["whole_set"] else None)


def _end(step: Callable[..., object]) -> Do:
    """Do this step to every wipe that was ticked."""

    def do(_: DriveSet, data: Data, by: Witness, at: datetime) -> object:
        return [step(wipe.job, wipe.drive, data["words"], by=by, at=at) for wipe in data["wipes"]]

    return do


NEEDS = {
    "name": "unnamed", "asked": "requests", "ask": "drives",
    "accept": "doubts", "lift": "holds", "withdraw": "releases", "copy-verified": "copies",
    "copy-bad": "copies", "hash-list": "copies",
    "wipe-verify": "under_way", "wipe-stop": "under_way", "wipe-fail": "under_way",
    **dict.fromkeys(
        ("record", "fit", "pull", "swap", "came-fitted", "drop", "break-up", "blank", "content", "health", "serial",
         "foreign", "erased", "release", "release-own", "copy", "hand-over", "receive", "wipe"), "drives"
    ),
}  # fmt: skip
BAYS, CONTENT, WORD, COPIES, HANDS, BENCH = (
    "Bays and recordings", "What is on them", "Releases and holds", "Copies", "Hands", "Wipe bench"
)  # fmt: skip
_ALL = (
    DriveAct("record", BAYS, "Recording has started", "It is recording", the_forms.RecordingForm, _record,
             "{set} is recording. What it records is on every member and every drive in its frame.", LEADS),
    DriveAct("stop", BAYS, "Recording has stopped", "It has stopped", the_forms.RecordingForm, _stop,
             "{set} has stopped recording.", LEADS),
    DriveAct("fit", BAYS, "Fit a drive", "It is fitted", the_forms.FitForm, _fit, "{drive} is fitted.", LEADS),
    DriveAct("pull", BAYS, "Pull a drive", "It is out", the_forms.PullForm, _pull, "{drive} is out.", LEADS),
    DriveAct("swap", BAYS, "Swap a drive", "They are swapped", the_forms.SwapForm, _swap,
             "{out} is out and {into} is in. The old one still holds what it recorded.", LEADS),
    DriveAct("came-fitted", BAYS, "Drives came back fitted", "Record the incident", the_forms.CameFittedForm,
             lambda _, data, by, at: drive_sets.came_fitted(data["drives"], data["frame"], data["told"], by=by, at=at),
             "Recorded: {drives} in {frame}. Nobody uses or wipes them before a health check.", CREW,
             "For drives that were found in a frame's bays when its case was opened. Take a photo of the bays first."),
    DriveAct("join", BAYS, "A drive joins the set", "It joins", the_forms.JoinForm, _join,
             "{drive} has joined {set}.", LEADS),
    DriveAct("drop", BAYS, "A drive leaves the set", "It leaves", the_forms.DropForm, _drop,
             "{drive} has left {set}. What it holds stays on it.", LEADS),
    DriveAct("break-up", BAYS, "Break up the set", "Break it up", the_forms.WhyForm,
             lambda one, data, by, at: drive_sets.break_up(one, data["why"], by=by, at=at),
             "{set} is broken up: each drive is judged by itself.",
             warning="Say this when drives of one recording will not come together again."),
    DriveAct("blank", CONTENT, "Declare blank", "They are blank", the_forms.BlankForm,
             lambda one, data, by, at: drive_sets.declare_blank(data["drives"], data["how_known"], by=by, at=at),
             "Declared blank. Content that an entry gave is not ended by it.",
             warning="Looking empty clears no content, and a format in the frame is no wipe."),
    DriveAct("content", CONTENT, "Say what all is on them", "That is all that is on them", the_forms.GivenForm, _give,
             "The content of {drives} stands in the book."),
    DriveAct("name", CONTENT, "Name a recording", "It is that show's", the_forms.NameForm, _name,
             "The recording has its show. It can be released now."),
    DriveAct("accept", CONTENT, "Accept doubts", "Accept these doubts", the_forms.AcceptForm, _accept,
             "Accepted, exactly as it stood.",
             warning="You accept what stands now and nothing later. Nobody accepts a doubt of their own making."),
    DriveAct("health", CONTENT, "Record a health check", "Record the check", the_forms.HealthForm,
             lambda one, data, by, at: doubts.check_health(data["drive"], data["result"], data["note"], by=by, at=at),
             "The health check of {drive} stands in the book."),
    DriveAct("serial", CONTENT, "Record a serial read-out", "That is what it says", the_forms.SerialForm,
             lambda one, data, by, at: drive_sets.read_serial(data["drive"], data["serial"], by=by, at=at),
             "The read-out of {drive} stands in the book.", LEADS),
    DriveAct("foreign", CONTENT, "Call a drive foreign", "It is not the one that was due", the_forms.DriveWhyForm,
             lambda one, data, by, at: drive_sets.call_foreign(data["drive"], data["why"], by=by, at=at),
             "{drive} is foreign: nobody mounts it, nobody wipes it.", LEADS),
    DriveAct("erased", CONTENT, "It was erased without release", "Record the incident", the_forms.DriveWhyForm,
             lambda one, data, by, at: drive_sets.erased_without_release(data["drive"], data["why"], by=by, at=at),
             "Recorded. Tell the owner, and write nothing on {drive}.", LEADS),
    DriveAct("release", WORD, "Enter a release", "Enter this release", the_forms.ReleaseForm, _release,
             "The release stands in the book.",
             warning="Who enters a release does not operate the wipe that follows."),
    DriveAct("ask", WORD, "Ask for a release", "Keep the letter", ask_forms.AskForm, _ask,
             "Kept. Read the letter below, then send it to {person}."),
    DriveAct("asked", WORD, "What was answered", "That is the answer", ask_forms.AnswerForm,
             lambda one, data, by, at: asking.answer(data["request"], data["word"], data["words"], by=by, at=at),
             "The answer stands in the book.",
             warning="A yes releases exactly the serials asked about. Who enters it does not operate the wipe."),
    DriveAct("release-own", WORD, "Release your content", "Release it", the_forms.OwnReleaseForm, _release_own,
             "Released. Thank you. The drives may be wiped once the agreed copies are confirmed.", CLIENTS,
             "A released drive may be wiped at any time. A wiped drive cannot be brought back."),
    DriveAct("withdraw", WORD, "Withdraw a release", "Withdraw it", the_forms.WithdrawForm,
             lambda one, data, by, at: releasing.withdraw(data["release"], data["why"], by=by, at=at),
             "Withdrawn. Whatever was not wiped yet is unreleased again.", (*KIT, *CLIENTS)),
    DriveAct("mandate", WORD, "Say who may release", "Enter it", the_forms.MandateForm, _mandate,
             "From now on these persons may release. Earlier releases keep the standing that they had."),
    DriveAct("hold", WORD, "Hold", "Hold it", the_forms.HoldForm, _hold,
             "Held. Nobody wipes it while the hold stands.", LEADS),
    DriveAct("lift", WORD, "Lift a hold", "Lift it", the_forms.LiftForm,
             lambda one, data, by, at: holding.lift(data["hold"], data["why"], by=by, at=at),
             "The hold is lifted.", LEADS),
    DriveAct("copy", COPIES, "Enter a copy", "Enter this copy", the_forms.CopyForm, _copy,
             "The copy stands in the book. It counts once it is verified."),
    DriveAct("copy-verified", COPIES, "A copy was verified", "It reads, and is the same", the_forms.CopyVerifiedForm,
             _verified, "The copy counts as verified."),
    DriveAct("hash-list", COPIES, "Check a media hash list", "Check it", the_forms.HashListForm, _hash_list,
             "Checked: {result}"),
    DriveAct("copy-bad", COPIES, "A copy is bad", "It does not read", the_forms.CopyChangeForm,
             lambda one, data, by, at: copying.report_bad(data["copy"], data["words"], by=by, at=at),
             "The copy counts no more."),
    DriveAct("hand-over", HANDS, "Hand over", "They are handed over", hand_forms.HandOverForm, _hand_over,
             "{drives}: handed over to {person}.", LEADS),
    DriveAct("receive", HANDS, "Receive", "They are here", hand_forms.ReceiveForm, _receive,
             "{drives}: received.", LEADS),
    DriveAct("wipe", BENCH, "Begin a wipe", "Begin", the_forms.BenchForm, _begin,
             "Begun. A second person verifies it.", LEADS,
             "Nothing begins unless the answer is YES for every drive that was scanned."),
    DriveAct("wipe-verify", BENCH, "Verify a wipe", "It is verified", the_forms.BenchEndForm, _end(bench.verify),
             "Verified. A record of what was done and checked, by whom; not a guarantee against recovery.", LEADS),
    DriveAct("wipe-stop", BENCH, "Stop a wipe", "Stop it", the_forms.BenchEndForm, _end(bench.stop),
             "Stopped. The drive does not count as blank.", LEADS),
    DriveAct("wipe-fail", BENCH, "A wipe failed", "It failed", the_forms.BenchEndForm, _end(bench.fail),
             "Failed. The drive is suspect: content may still be readable.", LEADS),
)  # fmt: skip
ACTS = {act.key: act for act in _ALL}


def acts_for(role: str | None, scope: Scope) -> list[tuple[str, list[DriveAct]]]:
    """The acts of a role that have something to act on, by the groups in which a page offers them."""
    mine = [act for act in _ALL if role in act.roles and act.can(scope)]
    return [(group, [act for act in mine if act.group == group]) for group in dict.fromkeys(a.group for a in mine)]


def act_titles(role: str | None, scope: Scope) -> dict[str, str]:
    """Titles of what this role may do here, by key: for a link beside the reason that an act ends."""
    return {act.key: act.title for _, acts in acts_for(role, scope) for act in acts}


@require_http_methods(["GET", "HEAD", "POST"])
@allow(*ANYONE)
def drive_act(request: HttpRequest, slug: str, key: str) -> HttpResponse:
    """Ask what an act needs, do it, and go back to the set."""
    one = get_object_or_404(DriveSet.objects.select_related("host"), slug=slug)
    scope, answer = _scope(request, one)
    return act_page(request, ACTS.get(key), Subject(one, scope, answer, reverse("drive-set", args=[slug])))


@dataclass(frozen=True, slots=True)
class Subject:
    """What an act is about: a set, or one drive by itself; what it may name, its answer, and the page to go back to."""

    one: DriveSet | Item
    scope: Scope
    answer: str
    back: str


def act_page(request: HttpRequest, act: DriveAct | None, about: Subject) -> HttpResponse:
    """The form of an act: asked, refused with its reasons, or done."""
    if act is None:
        raise Http404("no such act")
    if role_of(request.user) not in act.roles:
        raise PermissionDenied(f"“{act.title}” is for {' and '.join(act.roles)}s. Nothing was changed.")
    posted = request.method == "POST"
    sent = (request.POST, request.FILES) if posted else (None, None)
    form = act.form(*sent, scope=about.scope, initial={**_only_one(about.scope), **_initial(request)})
    refusal = _refusal_of(act, about.one, form, request) if posted and form.is_valid() else None
    if posted and form.is_valid() and refusal is None:
        return redirect(about.back)
    context = {"act": act, "about": about, "form": form, "refusal": refusal}
    return render(request, "inventory/drive_act.html", context, status=422 if posted else 200)


def _only_one(scope: Scope) -> Data:
    """Where one drive alone can be meant it is chosen already."""
    return {"drive": scope.drive_ids[0], "drives": scope.drive_ids} if len(scope.drives) == 1 else {}


def _initial(request: HttpRequest) -> Data:
    """What the address suggests: ?drive=, ?drives=, ?reference=."""
    asked = {name: request.GET[name] for name in ("drive", "out", "reference", "bay") if name in request.GET}
    return asked | ({"drives": request.GET.getlist("drives")} if "drives" in request.GET else {})


def _scope(request: HttpRequest, one: DriveSet) -> tuple[Scope, str]:
    """What may be named, and the answer as it stands. A set that is none of a client's business is not there."""
    at = timezone.now()
    if role_of(request.user) in HOUSE:
        page = set_page(one, at)
        return scope_of(page), page.answer.sentence
    own = client_page(one.slug, references_of(request.user.person), at)
    if own is None:
        raise Http404(one.slug)
    return client_scope_of(own, request.user.person), own.says


def _refusal_of(act: DriveAct, one: DriveSet | Item, form: forms.Form, request: HttpRequest) -> ValueError | None:
    """Do all of it or nothing; a refusal becomes a sentence above the form, with its reasons."""
    data = form.cleaned_data
    try:
        with transaction.atomic():
            result = act.do(one, data, witness_of(request), timezone.now())
    except (Refused, LedgerRefusal, photos.PhotoRefusal) as refusal:
        form.add_error(None, str(refusal))
        return refusal
    drives = ", ".join(str(drive) for drive in data.get("drives") or ())
    said = result.report.splitlines()[0] if isinstance(result, HashListCheck) else ""
    names = {**data, "set": one, "drives": drives, "result": said}
    messages.success(request, act.done.format(**names))
    return None


urlpatterns = [path("set/<slug:slug>/<slug:key>/", drive_act, name="drive-act")]
