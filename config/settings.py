"""Every setting, read once from the environment. Mistakes are reported by config/checks.py."""

from __future__ import annotations

import os
from pathlib import Path

import dj_database_url

from config.lan.addresses import hosts, secure_address

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = Path(os.environ.get("VAR_DIR", BASE_DIR / "var"))


class BadSetting(ValueError):
    """An environment variable holds something that cannot be read."""


def env_flag(name: str, default: bool) -> bool:
    """Read True or False; anything else stops the start with a sentence that says so."""
    value = os.environ.get(name, "")
    if value not in {"", "True", "False"}:
        raise BadSetting(f"{name}={value!r}: write True or False")
    return default if value == "" else value == "True"


def env_number(name: str, default: int) -> int:
    value = os.environ.get(name, "")
    if value and not value.isdecimal():
        raise BadSetting(f"{name}={value!r}: write a number")
    return int(value) if value else default


def env_list(name: str, default: str) -> list[str]:
    return [part.strip() for part in os.environ.get(name, default).split(",") if part.strip()]


DEBUG = env_flag("DEBUG", True)
DEMO = env_flag("DEMO", False)
# A crew's own network: phones come in by https and by plain http, and the addresses are this machine's own.
LAN = env_flag("LAN", False)
LAN_PLAIN_PORT, LAN_TLS_PORT = env_number("LAN_PLAIN_PORT", 8000), env_number("LAN_TLS_PORT", 8443)
SECRET_KEY = os.environ.get("SECRET_KEY", "only-for-trying-out-on-one-machine" if DEBUG else "")
ALLOWED_HOSTS = env_list("ALLOWED_HOSTS", "*" if DEBUG else "")
LAN_HOSTS = hosts(ALLOWED_HOSTS) if LAN else []
ALLOWED_HOSTS = list(dict.fromkeys([*ALLOWED_HOSTS, *LAN_HOSTS]))
PUBLIC_URL = os.environ.get(
    "PUBLIC_URL", secure_address(LAN_HOSTS[0], LAN_TLS_PORT) if LAN else "http://localhost:8000"
).rstrip("/")
CSRF_TRUSTED_ORIGINS = env_list("CSRF_TRUSTED_ORIGINS", PUBLIC_URL if PUBLIC_URL.startswith("https") else "")
OWNER_NAME = os.environ.get("OWNER_NAME", "")
OWNER_PHONE = os.environ.get("OWNER_PHONE", "")
COPIES_DIR = os.environ.get("COPIES_DIR", "")
SOLVER_PROCESSES = env_flag("SOLVER_PROCESSES", True)

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_tables2",
    "django_filters",
    "config",
    "inventory",
    "shipping",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "config.headers.content_security",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "inventory.access.context",
                "inventory.views.signing.look",
                "config.navigation.navigation",
            ],
        },
    }
]

DATABASES = {
    "default": dj_database_url.parse(
        os.environ.get("DATABASE_URL", f"sqlite:///{VAR_DIR / 'stowbook.sqlite3'}"), conn_max_age=None
    )
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["ENGINE"] = "config.sqlite"  # threads queue for the one writer
    DATABASES["default"]["TEST"] = {"NAME": ":memory:"}
    # FULL: an acknowledged scan survives a power cut. IMMEDIATE: a read that turns into a write
    # would otherwise be refused at once as "database is locked".
    DATABASES["default"]["OPTIONS"] = {
        "timeout": 20,
        "detect_types": 0,  # fields turn text into dates themselves; a digest of what was read wants it as it stands
        "transaction_mode": "IMMEDIATE",
        "init_command": (
            "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA recursive_triggers=ON;"
            "PRAGMA cache_size=-20000;PRAGMA mmap_size=134217728;PRAGMA journal_size_limit=27103364;"
            "PRAGMA temp_store=MEMORY;"
        ),
    }
else:
    # Lets the one statement behind Holding keep its plan; Django's own are sent whole each time, as ever.
    DATABASES["default"].setdefault("OPTIONS", {}).setdefault("prepare_threshold", 5)
    # Pages ask many small questions: compiling one, or starting processes to share it, takes longer than answering.
    # With 16 MB a list of everything in the main store is sorted without files.
    quick = "-c jit=off -c max_parallel_workers_per_gather=0 -c work_mem=16MB"
    DATABASES["default"]["OPTIONS"].setdefault("options", quick)

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign-in"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = os.environ.get("TIME_ZONE", "Europe/London")
USE_I18N = False
USE_TZ = True

STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
MEDIA_ROOT = VAR_DIR / "media"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
STATICFILES_DIRS = [
    (f"fonts/{family}", BASE_DIR / "node_modules/@fontsource" / f"atkinson-hyperlegible-{family}" / "files")
    for family in ("next", "mono")
] + [
    ("zxing/glue", BASE_DIR / "node_modules/zxing-wasm/dist/iife/reader"),
    ("zxing/reader", BASE_DIR / "node_modules/zxing-wasm/dist/reader"),
]
if not DEBUG:
    STORAGES = {
        "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
        "staticfiles": {"BACKEND": "config.storage.HashedModules"},
    }

DATA_UPLOAD_MAX_MEMORY_SIZE = 12 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
FIXTURE_DIRS = [BASE_DIR / "fixtures"]

BEHIND_TLS = env_flag("BEHIND_TLS", not DEBUG and not LAN)
SECURE_SSL_REDIRECT = BEHIND_TLS
SESSION_COOKIE_SECURE = BEHIND_TLS
CSRF_COOKIE_SECURE = BEHIND_TLS
SECURE_HSTS_SECONDS = 31_536_000 if BEHIND_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = BEHIND_TLS
SECURE_HSTS_PRELOAD = BEHIND_TLS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if env_flag("TRUST_PROXY", False) else None
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

# Without this an error of ours would leave no trace where DEBUG is off: Django only mails it, to nobody here.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"dated": {"format": "%(asctime)s %(levelname)s %(message)s"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "dated", "level": "ERROR"}},
    "loggers": {} if DEBUG else {"django": {"handlers": ["stderr"]}},
}

DJANGO_TABLES2_TEMPLATE = "partials/table.html"
# On a crew's network the plain door stays open for phones that trust nothing yet: no HSTS, no redirect to https, and
# cookies that both doors take. config.E003 sees to it that only there.
SILENCED_SYSTEM_CHECKS = [f"security.{check}" for check in ("W004", "W008", "W012", "W016")] if LAN else []
