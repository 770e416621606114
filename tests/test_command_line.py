"""manage.py as a person uses it in a terminal."""

import subprocess
import sys

from django.conf import settings


def test_a_reader_that_has_enough_gets_no_traceback():
    words = [sys.executable, "manage.py", "help", "--commands"]
    with subprocess.Popen(
        words, cwd=settings.BASE_DIR, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as done:
        assert done.stdout is not None and done.stderr is not None
        done.stdout.close()  # as `head` does, before the first line is written
        told = done.stderr.read()
    assert (done.returncode, told) == (1, "")
