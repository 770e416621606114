"""How seldom Python looks for garbage that its own counting does not find."""

import gc

ALIVE = 50_000  # new objects before it looks


def look_seldom() -> None:
    """Once all is loaded. What is there by now stays for good and is never looked through.

    A page makes some 20,000 objects, leaves a tenth as garbage and keeps some for the next page; looked at after
    every 700, as Python would, each page was held up by 10 ms, and one in six by 50 more.
    """
    gc.freeze()
    gc.set_threshold(ALIVE)
