"""An uploaded media hash list against a copy: what the check found is kept, and a good one verifies the copy."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import transaction

from inventory.copying import verify_copy
from inventory.deciding import Refused
from inventory.exchange.hash_lists import MOST_READ, Checked, HashListRefused, check_lists
from inventory.ledger import Witness
from inventory.models import Copy, HashListCheck


def folder_below(name: str) -> Path | None:
    """The folder of that name below COPIES_DIR; None if no name was given. Nothing outside is ever read."""
    if not name.strip():
        return None
    if not settings.COPIES_DIR:
        raise Refused("Copies cannot be reached from here: COPIES_DIR is not set. Leave the folder empty.")
    top = Path(settings.COPIES_DIR).resolve()
    found = (top / name.strip().lstrip("/")).resolve()
    if not found.is_relative_to(top) or not found.is_dir():
        raise Refused(f"There is no folder “{name}” among the copies. Check its name, or leave it empty.")
    return found


def check_copy(
    row: Copy, files: Sequence[tuple[str, bytes]], folder: str, *, by: Witness, at: datetime, most_read: int = MOST_READ
) -> HashListCheck:
    """Check, keep the result whatever it is, and count the copy as verified if every file was read and agrees."""
    try:
        checked = check_lists(files, folder_below(folder), most_read)
    except HashListRefused as refusal:
        raise Refused(str(refusal)) from refusal
    return _keep(row, checked, folder.strip(), by=by, at=at)


@transaction.atomic
def _keep(row: Copy, checked: Checked, folder: str, *, by: Witness, at: datetime) -> HashListCheck:
    if checked.result == HashListCheck.Result.GOOD:
        row = verify_copy(row, f"media hash list: all {checked.files} files read and compared", by=by, at=at)
    return HashListCheck.objects.create(
        copy=row, reference=row.reference, folder=folder[:200], result=checked.result, digest=checked.digest,
        generations=checked.generations, files=checked.files, read=checked.read, report=checked.report,
        entered_by=by.name, entered_at=at,
    )  # fmt: skip
