"""The wipe bench: scan, be told drive by drive, begin, and let a second person verify."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory import bench
from inventory.access import HOUSE, LEADS, allow, witness_of
from inventory.answers.benching import look
from inventory.answers.sanitising import NO_GUARANTEE, sanitisation_record
from inventory.deciding import Refused
from inventory.drive_records import owners_of
from inventory.forms.bench import EndForm, MethodForm, ScannedForm, VerifyForm

RECENT = 20


@require_safe
@allow(*HOUSE)
def bench_page(request: HttpRequest) -> HttpResponse:
    """What was scanned, each with its answer; and what is under way."""
    form = ScannedForm(request.GET) if request.GET.get("drives") else ScannedForm()
    found = method = None
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        found = look(data["drives"], timezone.now(), data["release"], data["drive_set"])
        method = MethodForm(initial=request.GET.dict()) if found.may_begin or found.may_destroy else None
    context = {"form": form, "look": found, "method": method, "jobs": bench.newest_jobs(RECENT)}
    status = 422 if form.is_bound and not form.is_valid() else 200
    return render(request, "inventory/bench.html", context, status=status)


@require_POST
@allow(*LEADS)
def bench_begin(request: HttpRequest) -> HttpResponse:
    """Begin all of it or nothing, and go to the wipe's own page."""
    form, at = MethodForm(request.POST), timezone.now()
    found = None
    if form.is_valid():
        data = form.cleaned_data
        try:
            rows = bench.begin(data["drives"], _method(data), by=witness_of(request), at=at,
                               drive_set=data["drive_set"], release=data["release"])  # fmt: skip
            messages.success(request, f"Begun: {len(rows)} drives. A second person verifies them.")
            return redirect("bench-job", rows[0].job)
        except Refused as refusal:
            form.add_error(None, str(refusal))
            found = look(data["drives"], at, data["release"], data["drive_set"])
    context = {"form": ScannedForm(request.POST), "look": found, "method": form, "jobs": bench.newest_jobs(RECENT)}
    return render(request, "inventory/bench.html", context, status=422)


def _method(data: dict) -> bench.Method:
    return bench.Method(**{name: data[name] for name in (
        "method", "technique", "tool", "destination", "place_words", "held_before")})  # fmt: skip


@require_safe
@allow(*HOUSE)
def bench_job(request: HttpRequest, job: UUID) -> HttpResponse:
    return _job_page(request, job, {})


def _job_page(request: HttpRequest, job: UUID, bound: dict[str, forms.Form], status: int = 200) -> HttpResponse:
    """One wipe: drive by drive what stands, how it may end, and its record."""
    record = sanitisation_record(job)
    if record is None:
        raise Http404(job)
    open_ones = bench.under_way(job)
    stopped = [line for line in record.lines if line.outcome in ("stopped", "failed")]
    context = {
        "record": record, "job": job, "open": open_ones, "no_guarantee": NO_GUARANTEE, "stopped": stopped,
        "owners": owners_of([line.drive.id for line in stopped]),
        "verify": bound.get("verify") or VerifyForm(open_ones=open_ones),
        "fail": bound.get("fail") or EndForm(open_ones=open_ones), "errors": bound,
    }  # fmt: skip
    return render(request, "inventory/bench_job.html", context, status=status)


STEPS: dict[str, tuple[type[EndForm], Callable[..., object], str]] = {
    "verify": (VerifyForm, bench.verify, "Verified"),
    "fail": (EndForm, bench.fail, "Failed"),
}


@require_POST
@allow(*LEADS)
def bench_end(request: HttpRequest, job: UUID, key: str) -> HttpResponse:
    """Verified by a second person, or failed: for the drives that were ticked, all of them or none."""
    if key not in STEPS:
        raise Http404(key)
    kind, step, word = STEPS[key]
    form = kind(request.POST, open_ones=bench.under_way(job))
    if form.is_valid():
        data, at = form.cleaned_data, timezone.now()
        words = ": ".join(filter(None, [data.get("check", ""), data["words"]]))
        try:
            with transaction.atomic():
                for drive in data["drives"]:
                    step(job, drive, words, by=witness_of(request), at=at)
            messages.success(request, f"{word}: {', '.join(str(one.serial or one) for one in data['drives'])}.")
            return redirect("bench-job", job)
        except Refused as refusal:
            form.add_error(None, str(refusal))
    return _job_page(request, job, {key: form}, status=422)


@require_POST
@allow(*LEADS)
def bench_stop(request: HttpRequest, job: UUID) -> HttpResponse:
    """Stop everything of this wipe at once, and keep exactly which serials had begun."""
    try:
        rows = bench.stop_all(job, request.POST.get("words", ""), by=witness_of(request), at=timezone.now())
        serials = ", ".join(row.drive.serial or str(row.drive) for row in rows)
        messages.warning(request, f"Stopped. These had begun, and count as neither blank nor whole: {serials}.")
    except Refused as refusal:
        messages.error(request, str(refusal))
    return redirect("bench-job", job)


urlpatterns = [
    path("bench/", bench_page, name="bench"),
    path("bench/begin/", bench_begin, name="bench-begin"),
    path("bench/<uuid:job>/", bench_job, name="bench-job"),
    path("bench/<uuid:job>/stop/", bench_stop, name="bench-stop"),
    path("bench/<uuid:job>/<slug:key>/", bench_end, name="bench-end"),
]
