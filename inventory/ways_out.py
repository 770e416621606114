"""Which acts end which reason of the wipe answer: every NO and NOT KNOWN leads somewhere on the screen it stands on."""

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
    "erased without release": ("ask", "asked", "release", "content", "blank"),
    "no start": ("content", "blank"),
    "no drives": ("join",),
    "foreign": ("accept", "serial", "hand-over"),
    "suspect": ("health",),
    "fitted, recording not told": ("record", "blank", "accept"),
    **dict.fromkeys(
        ("reconstructed", "doubtful", "corrected", "custody gap", "other hands", "lost and found", "another seal"),
        ACCEPT,
    ),
}  # fmt: skip
# Acts on a set as a whole: on a drive's own page they lead to the page of its set.
OF_A_SET = frozenset(
    {"record", "stop", "fit", "pull", "swap", "came-fitted", "join", "drop", "break-up", "release-own", "wipe"}
)
# These are ended by other means: by mending what stands of the drive, or not at all.
EDITED = "unreadable serial"
ELSEWHERE = {EDITED: "item-edit", "destroyed": ""}
# Reasons about other drives of a recording: a drive's own page leaves their acts to its set.
ABOUT_OTHERS = frozenset({"set incomplete"})


def acts_that_end(word: str) -> tuple[str, ...]:
    """Keys of the acts, the likeliest first; none where the way out is elsewhere."""
    return ENDS.get(word, ())


def own_acts_that_end(word: str) -> tuple[str, ...]:
    """Those of them that a drive's own page offers."""
    return () if word in ABOUT_OTHERS else tuple(key for key in acts_that_end(word) if key not in OF_A_SET)


def set_acts_that_end(word: str) -> tuple[str, ...]:
    """Those of them that the page of its set offers instead."""
    keys = acts_that_end(word)
    return keys if word in ABOUT_OTHERS else tuple(key for key in keys if key in OF_A_SET)
