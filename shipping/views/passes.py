"""Day passes: made and ended by a lead, joined by anybody who holds the code."""

from __future__ import annotations

from datetime import timedelta
from math import ceil

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory import labels, passes
from inventory.access import LEADS, allow, witness_of
from inventory.models import DayPass
from shipping.documents.day_sheet import join_address
from shipping.forms.passes import CodeForm, JoinForm, PassForm
from shipping.models import Show
from shipping.views.gate import keep_token, phone_words

QR = labels.Size("M", 60)


@allow(*LEADS)
@require_http_methods(["GET", "POST"])
def make(request: HttpRequest, code: str) -> HttpResponse:
    """The passes of one show, and a form for a new one."""
    show = get_object_or_404(Show, code=code)
    form = PassForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        at, data = timezone.now(), form.cleaned_data
        made = passes.make(
            show.code, verbs=data["verbs"], start=at, hours=data["hours"], by=witness_of(request).name, at=at
        )
        return redirect("pass", made.pk)
    rows = DayPass.objects.filter(reference=show.code).prefetch_related("devices")
    known = [(row, passes.why_not_in_force(row, timezone.now())) for row in rows]
    context = {"show": show, "form": form, "passes": known}
    return render(request, "shipping/passes.html", context, status=422 if request.method == "POST" else 200)


@allow(*LEADS)
@require_GET
def day_pass(request: HttpRequest, pk: int) -> HttpResponse:
    """One pass to print or hold up: QR, address, the code to say, and who has joined."""
    row = get_object_or_404(DayPass.objects.prefetch_related("devices"), pk=pk)
    address = join_address(row)
    context = {
        "day_pass": row, "show": Show.objects.filter(code=row.reference).first(), "address": address,
        "qr": labels.qr_svg(address, QR), "spoken": passes.spoken(row.code),
        "over": passes.why_not_in_force(row, timezone.now()),
    }  # fmt: skip
    return render(request, "shipping/pass.html", context)


@allow(*LEADS)
@require_POST
def revoke(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(DayPass, pk=pk)
    passes.revoke(row, by=witness_of(request).name, at=timezone.now())
    messages.success(request, f"Pass {row.code} is over. What its phones scanned before stands; later scans are held.")
    return redirect("pass-make", row.reference)


def _address(request: HttpRequest) -> str:
    return request.META.get("REMOTE_ADDR", "")[:45]


def _slow_down(request: HttpRequest, wait: timedelta) -> HttpResponse:
    response = render(request, "shipping/join_later.html", {"minutes": ceil(wait / timedelta(minutes=1))}, status=429)
    response["Retry-After"] = str(ceil(wait.total_seconds()))
    return response


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def join(request: HttpRequest, code: str) -> HttpResponse:
    """A name, and the phone is in. Guessing is slowed: 20 wrong codes from one address, then ten minutes' wait."""
    if wait := passes.wait(_address(request), timezone.now()):
        return _slow_down(request, wait)
    row = passes.find(code)
    if row is None:
        passes.count_wrong(_address(request), timezone.now())
        return render(request, "shipping/join_code.html", {"form": CodeForm(), "wrong": code[:40]}, status=404)
    form, refusal = JoinForm(request.POST or None), passes.why_not_in_force(row, timezone.now())
    if request.method == "POST" and form.is_valid() and not refusal:
        return _joined(request, row, form)
    show = Show.objects.filter(code=row.reference).first()
    context = {"day_pass": row, "show": show, "form": form, "refusal": refusal}
    status = 410 if refusal else 422 if request.method == "POST" else 200
    return render(request, "shipping/join.html", context, status=status)


def _joined(request: HttpRequest, row: DayPass, form: JoinForm) -> HttpResponse:
    try:
        device, token = passes.join(row, form.cleaned_data["name"], at=timezone.now())
    except passes.PassRefused as why:
        form.add_error("name", str(why))
        return render(request, "shipping/join.html", {"day_pass": row, "form": form}, status=422)
    wants_json = request.headers.get("Accept", "").startswith("application/json")
    response = JsonResponse(phone_words(device, token)) if wants_json else redirect("scan")
    keep_token(response, token)
    return response


@login_not_required
@never_cache
@require_GET
def join_by_code(request: HttpRequest) -> HttpResponse:
    """For a code that was said on the radio."""
    code = request.GET.get("code", "").strip()
    if code:
        return redirect("join", "-".join(code.replace("/", " ").upper().split())[:40])
    return render(request, "shipping/join_code.html", {"form": CodeForm()})


urlpatterns = [
    path("show/<str:code>/passes/", make, name="pass-make"),
    path("pass/<int:pk>/", day_pass, name="pass"),
    path("pass/<int:pk>/end/", revoke, name="pass-end"),
    path("join/", join_by_code, name="join-by-code"),
    path("join/<str:code>/", join, name="join"),
]
