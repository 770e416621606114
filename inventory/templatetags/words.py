"""Meanings as shape and word, tape colours, moments in venue time, ages."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from django import template
from django.urls import get_script_prefix, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

register = template.Library()

# Shapes of our own: a filled bar, a double bar, an open wedge, a dotted ring.
SHAPES = {
    "settled": '<rect x="0" y="4" width="22" height="8" fill="currentColor"/>',
    "quiet": '<path d="M0 5h22M0 11h22" stroke="currentColor" stroke-width="3"/>',
    "stop": '<path d="M20 1 3 8l17 7" fill="none" stroke="currentColor" stroke-width="3"/>',
    "doubtful": (
        '<circle cx="11" cy="8" r="6" fill="none" stroke="currentColor" stroke-width="3" stroke-dasharray="2.4 2.3"/>'
    ),
}
SAYS = {"good": "settled", "already done": "quiet", "wrong": "stop", "unknown": "doubtful"}


@register.simple_tag
@lru_cache(maxsize=2000, typed=True)
def meaning(kind: str, word: str) -> SafeString:
    """A word with the shape of its meaning: settled, quiet, stop or doubtful (or what a scan says).

    A page says some dozen words some hundred times.
    """
    kind = SAYS.get(kind, kind)
    shape = mark_safe(SHAPES[kind])
    return format_html(
        '<span class="meaning {}"><svg viewBox="0 0 22 16" aria-hidden="true">{}</svg>{}</span>', kind, shape, word
    )


@register.simple_tag
def address(name: str, *args: object) -> str:
    """As `url`, for addresses that a page gives by the hundred: each is looked up once."""
    return _address(get_script_prefix(), name, *args)


@lru_cache(maxsize=5000)
def _address(_prefix: str, name: str, *args: object) -> str:
    return reverse(name, args=args)


@register.simple_tag
def band(colour: str) -> SafeString:
    """A tape colour: the stripe and its name in words."""
    if not colour:
        return mark_safe("")
    return format_html('<span class="band {}">{}</span>', colour.lower(), colour)


@register.filter
def venue_time(when: datetime | None, zone: str = "") -> SafeString | str:
    """A moment at the place's own clock, with the day when it is not today there."""
    if when is None:
        return "no time given"
    where = ZoneInfo(zone) if zone else timezone.get_current_timezone()
    local, today = when.astimezone(where), timezone.now().astimezone(where).date()
    words = f"{local:%H:%M}" if local.date() == today else f"{local:%a %-d %b %H:%M}"
    if local.year != today.year:
        words = f"{local:%-d %b %Y %H:%M}"
    return format_html('<time datetime="{}">{}</time>', when.isoformat(), words)


@register.filter
def venue_day(when: datetime | None) -> SafeString | str:
    """A moment that stands among moments of other days: of today it says so."""
    if when is None or timezone.localdate(when) != timezone.localdate():
        return venue_time(when)
    return format_html("today {}", venue_time(when))


def age_words(age: timedelta) -> str:
    """An age in the largest unit that still tells something."""
    minutes = int(abs(age).total_seconds() // 60)
    if minutes < 1:
        return "just now"
    for size, unit in ((60 * 24, "day"), (60, "hour"), (1, "minute")):
        if minutes >= size * (2 if unit == "day" else 1):
            count = minutes // size
            return f"{count} {unit}{'s' if count > 1 else ''}"
    return "just now"


@register.filter
def ago(when: datetime | None) -> str:
    """How long ago a moment was, or how long until it."""
    if when is None:
        return "never"
    age = timezone.now() - when
    words = age_words(age)
    if words == "just now":
        return words
    return f"{words} ago" if age >= timedelta(0) else f"in {words}"


@register.filter
def after_word(sentence: str, word: str) -> str:
    """A sentence without the answer's word before it, for where that word stands beside it as a mark."""
    rest = sentence.removeprefix(f"{word}: ")
    return rest[:1].upper() + rest[1:]


@register.filter
def kg(mass: float | None) -> str:
    """A mass in kilograms, without noise behind the point, with a comma between the thousands."""
    return "mass not known" if mass is None else f"{float(mass):,.1f} kg".replace(".0 kg", " kg")


@register.filter
def thousands(number: int) -> str:
    """A whole number with a comma between the thousands."""
    return f"{number:,}"


@register.filter
def kg_of_grams(grams: int) -> str:
    """Whole grams as kilograms, to 100 g, with a comma between the thousands."""
    return f"{grams / 1000:,.1f} kg".replace(".0 kg", " kg")


# What an answer's word means at a glance; a word that is not here is a doubt until somebody says otherwise.
SETTLED = {
    "good", "ready", "yes", "here", "seen", "sealed in", "as expected", "agrees", "back", "back sealed, not opened",
    "done", "confirmed", "complete", "blank", "free",
}  # fmt: skip
STOPS = {
    "wrong", "no", "not ready", "missing", "missed", "block", "fault", "incomplete", "differs", "damaged", "short",
    "overdue", "in dispute", "elsewhere", "extra", "loop", "two stories", "cannot be",
}  # fmt: skip
QUIET = {"already done", "advise", "carried", "spare", "note"}


def meaning_of(word: object) -> str:
    """settled, stop, quiet or doubtful: which of the four an answer's word belongs to."""
    plain = str(word).strip().casefold()
    for kind, words in (("settled", SETTLED), ("stop", STOPS), ("quiet", QUIET)):
        if plain in words:
            return kind
    return "doubtful"


@register.simple_tag
def meant(word: object) -> SafeString:
    """An answer's own word, with the shape of what it means: seen, sealed in, NOT READY, missing."""
    return meaning(meaning_of(word), str(word))
