"""Check the media hash lists of a folder, every file of it, however long that takes."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.exchange.hash_lists import HashListRefused, check_lists


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="The folder that was copied: it has an ascmhl folder in it.")

    def handle(self, folder: Path, **options: Any) -> None:
        lists = folder / "ascmhl"
        if not lists.is_dir():
            raise CommandError(f"{folder} has no ascmhl folder, so nobody made a media hash list of it.")
        files = [(path.name, path.read_bytes()) for path in sorted(lists.iterdir()) if path.is_file()]
        try:
            checked = check_lists([one for one in files if not one[0].startswith(".")], folder, most_read=1 << 62)
        except HashListRefused as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(checked.report)
        if checked.findings:
            raise SystemExit(1)
