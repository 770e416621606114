"""What is insured: the policies entered so far, and one more."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone

from inventory.access import KIT, allow, witness_of
from shipping import insuring
from shipping.forms.policies import PolicyForm
from shipping.models import Policy


@allow(*KIT)
def policies(request: HttpRequest) -> HttpResponse:
    """Enter a policy; the earlier ones stand below it."""
    today = timezone.localdate()
    form = PolicyForm(request.POST or None, initial={"valid_from": today, "excess": 0})
    if request.method == "POST" and form.is_valid():
        try:
            row = insuring.enter(form.cleaned_data, by=witness_of(request), at=timezone.now())
        except insuring.PolicyRefusal as no:
            form.add_error(None, str(no))
        else:
            messages.success(request, f"Entered: {row}, from {row.valid_from:%-d %B %Y}.")
            return redirect("policies")
    counts = insuring.in_force(today)
    context = {"form": form, "counts": counts.values(), "rows": Policy.objects.order_by("-entered_at", "-pk")}
    return render(request, "shipping/policies.html", context, status=422 if form.errors else 200)


urlpatterns = [path("policies/", policies, name="policies")]
