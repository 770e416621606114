"""Answers for machines: GET /api/answers/<name>/<code>/?at=ISO-TIME."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, JsonResponse
from django.urls import path
from django.views.decorators.http import require_GET

from inventory.access import HOUSE, role_of
from inventory.answers import registry
from inventory.answers.values import plain
from inventory.management.answering import moment, not_found
from inventory.models import ClientReference, Role


def _refuse(status: int, sentence: str) -> JsonResponse:
    return JsonResponse({"answer": None, "sentence": sentence, "reasons": []}, status=status)


@login_not_required
@require_GET
def answer(request: HttpRequest, name: str, code: str) -> JsonResponse:
    """One answer as JSON. 401 without a sign-in, 404 for what is unknown or not for this role, 422 for a bad time."""
    role = role_of(request.user)
    if role is None:
        return _refuse(401, "Sign in first.")
    asked = registry.named(name)
    if asked is None:
        return _refuse(404, f"There is no answer called “{name}”. There are: {', '.join(registry.names())}.")
    subject = asked.find(code)
    if role not in HOUSE and not _is_theirs(request, asked, subject):
        return _refuse(404, f"No {asked.one} “{code}” is known.")
    if subject is None:
        return _refuse(404, not_found(code, asked.one))
    try:
        at = moment(request.GET.get("at"))
    except ValueError as wrong:
        return _refuse(422, str(wrong))
    return JsonResponse(plain(asked.ask(subject, at)))


def _is_theirs(request: HttpRequest, asked: registry.Answer, subject: object) -> bool:
    """May this client see this answer? Only about what its own shows name."""
    if subject is None or asked.references is None or role_of(request.user) != Role.CLIENT:
        return False
    theirs = ClientReference.objects.filter(person__user=request.user).values_list("reference", flat=True)
    return not asked.references(subject).isdisjoint(theirs)


urlpatterns = [path("api/answers/<slug:name>/<path:code>/", answer, name="answer")]
