"""The rules: what each says, where it is from, its limits, how often it was set aside."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils import timezone

from inventory.access import HOUSE, KIT, allow, witness_of
from shipping.forms.cases import LimitForm
from shipping.limits import LimitRefusal, rule_lines, set_limit
from shipping.packing.rules import RULES


@allow(*HOUSE)
def rules(request: HttpRequest) -> HttpResponse:
    lines = rule_lines(timezone.localdate())
    blocks = sum(line.rule.severity == "block" for line in lines)
    return render(request, "shipping/rules.html", {"lines": lines, "blocks": blocks})


@allow(*KIT)
def rule_limit(request: HttpRequest, rule: str, name: str) -> HttpResponse:
    """Enter a limit from a day on; the page also lists the earlier ones."""
    if rule not in RULES or name not in RULES[rule].limits:
        raise Http404("No rule has that limit.")
    form = LimitForm(request.POST or None, initial={"valid_from": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        try:
            set_limit(rule, name, by=witness_of(request), at=timezone.now(), **form.cleaned_data)
        except LimitRefusal as no:
            form.add_error(None, str(no))
        else:
            messages.success(
                request, f"From {form.cleaned_data['valid_from']:%d %B %Y}: {form.cleaned_data['value']:f}."
            )
            return redirect(f"{reverse('rules')}#{rule}")
    line = next(line for line in rule_lines(timezone.localdate()) if line.rule.id == rule)
    limit = next(one for one in line.limits if one.name == name)
    context = {"line": line, "limit": limit, "form": form}
    return render(request, "shipping/rule_limit.html", context, status=422 if form.errors else 200)


urlpatterns = [
    path("rules/", rules, name="rules"),
    path("rules/<slug:rule>/<slug:name>/", rule_limit, name="rule-limit"),
]
