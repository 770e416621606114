"""The web server's way in."""

import gc
import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()
get_resolver().url_patterns  # noqa: B018 - reads every page's code now, not while the first person of each process waits
gc.freeze()  # what is loaded by now stays for good: looking through it for garbage would hold up a page
