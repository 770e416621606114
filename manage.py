#!/usr/bin/env python3
"""Stowbook's command line."""

import os
import sys

from django.core.management import execute_from_command_line


def main() -> None:
    try:
        execute_from_command_line(sys.argv)
        sys.stdout.flush()
    except BrokenPipeError:  # read by `head` or the like, which has enough: no fault, so no traceback
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # or the flush at exit complains once more
        sys.exit(1)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    main()
