"""Sign in, sign out, and light or dark."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST


class SignInForm(AuthenticationForm):
    """One sentence for a name or a password that is wrong; it does not say which."""

    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": "Name and password do not fit together. Passwords tell capital letters apart.",
    }


A_YEAR = 365 * 24 * 3600


@login_not_required
@require_POST
def theme(request: HttpRequest) -> HttpResponse:
    """Remember light, dark, or whatever the device says."""
    wanted, after = request.POST.get("theme", ""), request.POST.get("next", "/")
    if not url_has_allowed_host_and_scheme(after, allowed_hosts={request.get_host()}):
        after = "/"
    response = redirect(after)
    if wanted in {"light", "dark"}:
        response.set_cookie("theme", wanted, max_age=A_YEAR, samesite="Lax")
    else:
        response.delete_cookie("theme")
    return response


def look(request: HttpRequest) -> dict[str, object]:
    """For every template: the chosen theme, and whether this is the demo."""
    wanted = request.COOKIES.get("theme", "")
    return {"theme": wanted if wanted in {"light", "dark"} else "", "demo": settings.DEMO}


urlpatterns = [
    path(
        "sign-in/",
        LoginView.as_view(template_name="inventory/sign_in.html", authentication_form=SignInForm),
        name="sign-in",
    ),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("theme/", theme, name="theme"),
]
