"""The rules: what each says, where it is from, its limits, how often it was set aside."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils import timezone

from inventory.access import HOUSE, KIT, allow, witness_of
from shipping.forms.cases import LimitForm
from shipping.limits import KEPT_WAIVING, WITHIN, LimitRefusal, all_rules, changes, rule_lines, set_limit

WORST = ("block", "warn", "advise")


@allow(*HOUSE)
def rules(request: HttpRequest) -> HttpResponse:
    lines = rule_lines(timezone.localdate(), timezone.now())
    context = {
        "lines": lines,
        "piles": [{"severity": word, "lines": [one for one in lines if one.rule.severity == word]} for word in WORST],
        "blocks": sum(line.rule.severity == "block" for line in lines),
        "kept_waiving": [line for line in lines if line.kept_waiving],
        "changes": changes(lines),
        "many": KEPT_WAIVING,
        "days": WITHIN.days,
    }
    return render(request, "shipping/rules.html", context)


@allow(*KIT)
def rule_limit(request: HttpRequest, rule: str, name: str) -> HttpResponse:
    """Enter a limit from a day on; the page also lists the earlier ones."""
    known = all_rules().get(rule)
    if known is None or name not in known.limits:
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
    line = next(one for one in rule_lines(timezone.localdate(), timezone.now()) if one.rule.id == rule)
    limit = next(one for one in line.limits if one.name == name)
    context = {"line": line, "limit": limit, "form": form}
    return render(request, "shipping/rule_limit.html", context, status=422 if form.errors else 200)


urlpatterns = [
    path("rules/", rules, name="rules"),
    path("rules/<slug:rule>/<slug:name>/", rule_limit, name="rule-limit"),
]
