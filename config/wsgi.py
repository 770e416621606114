"""The web server's way in."""

import gc
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()
gc.freeze()  # what is loaded by now stays for good: looking through it for garbage would hold up a page
