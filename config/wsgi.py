"""The web server's way in."""

import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

from config.garbage import look_seldom

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()
get_resolver().url_patterns  # noqa: B018 - reads every page's code now, not while the first person of each process waits
look_seldom()
