"""Mistakes in the settings are said at start, each under its own id."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from django.conf import settings
from django.core.checks import run_checks

from config.garbage import ALIVE
from config.settings import BadSetting, env_flag


def _ids() -> set[str]:
    return {message.id for message in run_checks(include_deployment_checks=True) if message.id}


@pytest.mark.parametrize(
    ("name", "value", "check"),
    [
        ("PUBLIC_URL", "gear.example.org", "config.E001"),
        ("PUBLIC_URL", "https://gear.example.org/book", "config.E002"),
        ("PUBLIC_URL", "http://localhost:8000", "config.W001"),
        ("OWNER_PHONE", "", "config.W002"),
    ],
)
def test_a_bad_setting_is_named(settings, db, name, value, check):
    setattr(settings, name, value)
    assert check in _ids()


def test_good_settings_raise_none_of_ours(settings, db):
    settings.PUBLIC_URL, settings.OWNER_PHONE, settings.SECRET_KEY = (
        "https://gear.example.org",
        "+44 1632 960100",
        "x" * 50,
    )
    assert not {found for found in _ids() if found.startswith("config.")}


def test_a_flag_takes_only_true_or_false(monkeypatch):
    monkeypatch.setenv("DEBUG", "yes")
    with pytest.raises(BadSetting, match="write True or False"):
        env_flag("DEBUG", False)


def test_the_deploy_check_is_clean_with_real_settings(tmp_path):
    unwanted = {"DJANGO_ALLOW_ASYNC_UNSAFE", "DATABASE_URL"}
    env = {name: value for name, value in os.environ.items() if name not in unwanted} | {
        "DEBUG": "False",
        "SECRET_KEY": "kq2#" * 15 + "Zr81!x_w",
        "ALLOWED_HOSTS": "gear.example.org",
        "PUBLIC_URL": "https://gear.example.org",
        "OWNER_PHONE": "+44 1632 960100",
        "VAR_DIR": str(tmp_path),
    }
    migrate = [sys.executable, "manage.py", "migrate", "-v", "0"]
    check = [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"]
    subprocess.run(migrate, cwd=settings.BASE_DIR, env=env, check=True, capture_output=True)
    done = subprocess.run(check, cwd=settings.BASE_DIR, env=env, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


BREAKS = """
import django, sys
django.setup()
from django.contrib.auth.decorators import login_not_required
from django.test import Client
from config import urls
breaks = login_not_required(lambda request: 1 // 0)
urls.urlpatterns[:0] = [django.urls.path("breaks/", breaks)]
sys.stdout.write(str(Client(raise_request_exception=False).get("/breaks/").status_code))
"""


def test_an_error_is_told_to_whoever_runs_the_server(tmp_path):
    real = {"DEBUG": "False", "SECRET_KEY": "x" * 50, "ALLOWED_HOSTS": "testserver", "BEHIND_TLS": "False"}
    env = os.environ | real | {"VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings"}
    env.pop("DATABASE_URL", None)
    said = subprocess.run([sys.executable, "-c", BREAKS], env=env, capture_output=True, text=True, timeout=60)
    assert said.stdout == "500", said.stderr
    assert "ERROR Internal Server Error: /breaks/" in said.stderr
    assert "ZeroDivisionError" in said.stderr


def test_a_server_looks_for_garbage_seldom_and_never_through_what_it_started_with(tmp_path):
    started = "import config.wsgi, gc; print(gc.get_threshold()[0], gc.get_freeze_count() > 100_000)"
    env = os.environ | {"DEBUG": "True", "VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings"}
    env.pop("DATABASE_URL", None)
    said = subprocess.run([sys.executable, "-c", started], env=env, capture_output=True, text=True, timeout=60)
    assert said.stdout.split() == [str(ALIVE), "True"], said.stderr
