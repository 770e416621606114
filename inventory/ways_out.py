"""Which acts of a set's page end which reason of the wipe answer: every NO and NOT KNOWN leads somewhere."""

from __future__ import annotations

ACCEPT = ("accept", "blank")
ENDS: dict[str, tuple[str, ...]] = {
    "not released": ("ask", "asked", "release", "mandate", "name"),
    "unsure release": ("ask", "asked", "mandate", "release"),
    "too few copies": ("copy", "copy-verified", "hash-list", "mandate"),
    "hold": ("lift",),
    "recording": ("stop",),
    "wipe under way": ("wipe-verify", "wipe-stop", "wipe-fail"),
    "with client": ("receive",),
    "lost": ("receive",),
    "set incomplete": ("receive", "break-up"),
    "erased without release": ("ask", "asked", "release", "content"),
    "no start": ("content", "blank"),
    "no drives": ("join",),
    "foreign": ("accept", "hand-over"),
    "suspect": ("health",),
    "fitted, recording not told": ("record", "blank", "accept"),
    **dict.fromkeys(
        ("reconstructed", "doubtful", "corrected", "custody gap", "other hands", "lost and found", "another seal"),
        ACCEPT,
    ),
}  # fmt: skip
# These two are ended elsewhere: on the drive's own page, or not at all.
ELSEWHERE = {"unreadable serial": "item-edit", "destroyed": ""}


def acts_that_end(word: str) -> tuple[str, ...]:
    """Keys of the acts, the likeliest first; none where the way out is elsewhere."""
    return ENDS.get(word, ())
