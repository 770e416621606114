"""What top-over lashing would have to press with so that a load does not slide. Never a number of straps.

EN 12195-1:2010 (formula from secondary pages). Sliding alone: tipping, wheels and the vehicle's anchorages are not in
it, and a case on its castors has no friction that may be counted on. The driver or a competent person decides.
"""

from __future__ import annotations

from math import radians, sin

from shipping.packing.floor.reasons import kg

GRAVITY = 9.81
FORWARD, ASIDE, REARWARD = 0.8, 0.5, 0.5  # of g, on the road (EN 12195-1:2010, from secondary pages)
DOWN = 1.0
SAFETY = {"forward": 1.25, "aside": 1.1, "rearward": 1.1}
CAUTION = (
    "Sliding alone, from entered figures: tipping, wheels and anchorages are not in it. "
    "Ask the driver or a competent person; restrain the load in any case."
)


def lashing_force_n(
    mass_kg: float, friction: float, pull: float, angle_deg: float = 90.0, safety: float = SAFETY["aside"]
) -> float:
    """The sum of the lashings' tension in newtons, 0 where friction alone would hold by this formula.

    n F_T >= (c - mu c_z) m g f_s / (2 mu sin alpha). Raises ValueError where friction or angle leave nothing to press.
    """
    if friction <= 0 or not 0 < angle_deg <= 90:
        raise ValueError("Top-over lashing needs friction above 0 and an angle above 0 and up to 90 degrees.")
    needed = (pull - friction * DOWN) * mass_kg * GRAVITY * safety
    return max(0.0, needed / (2 * friction * sin(radians(angle_deg))))


# Friction of planed wood on laminate (UNECE CTU Code, Annex 7, Appendix 2), and of an anti-slip mat (secondary pages).
WOOD, MAT = 0.30, 0.60


def lashing_words(mass_g: int) -> str:
    """Advice for a load: what upright top-over lashings would have to pull in sum. `CAUTION` goes with it."""
    if not mass_g:
        return ""
    wood, mat = (lashing_force_n(mass_g / 1000, one, FORWARD, safety=SAFETY["forward"]) / 1000 for one in (WOOD, MAT))
    return (
        f"Against sliding forward, upright lashings over {kg(mass_g)} would have to pull {wood:.1f} kN in sum at "
        f"friction {WOOD:g} (planed wood on laminate), {mat:.1f} kN at {MAT:g} (anti-slip mats), by EN 12195-1:2010 as "
        "secondary pages give it. Wheels count as no friction: lift cases off them or block them."
    )
