"""What a sheet may be at most, said before and after it is too much."""

from __future__ import annotations

MIB = 1024 * 1024
MAX_BYTES = 10 * MIB
MAX_UNPACKED = 100 * MIB
MAX_PARTS = 1000
MAX_TABS = 30
MAX_ROWS = 10_000
MAX_COLUMNS = 200
MAX_CELL = 4_000
LAST_ROW = 1_048_576  # the lowest row any spreadsheet has (common practice)

STATED = (
    f"a file of up to {MAX_BYTES // MIB} MB, CSV or XLSX",
    f"up to {MAX_UNPACKED // MIB} MB and {MAX_PARTS:,} parts once an XLSX is unpacked",
    f"up to {MAX_TABS} tabs, {MAX_ROWS:,} filled rows in all and {MAX_COLUMNS} columns",
    f"up to {MAX_CELL:,} characters in one cell",
)


class SheetRefused(ValueError):
    """The file as a whole cannot be read. Carries a sentence that says what to do."""
