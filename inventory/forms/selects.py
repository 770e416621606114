"""A choice among hundreds, written at once: each option by a template of its own takes a tenth of a millisecond."""

from __future__ import annotations

from html import escape
from typing import Any

from django import forms
from django.forms.utils import flatatt
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe


class LongSelect(forms.Select):
    """Looks and sends as Select does; its choices have no groups."""

    def render(self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None) -> SafeString:
        chosen = set(self.format_value(value))
        written = "\n".join(_option(str(key), label, chosen) for key, label in self.choices)
        return format_html(
            "<select{}>{}</select>", flatatt({"name": name, **self.build_attrs(self.attrs, attrs)}), mark_safe(written)
        )


def _option(key: str, label: Any, chosen: set[str]) -> str:
    """By the plain escaping that Django's own ends in: hundreds of times for a page."""
    words = label.__html__() if hasattr(label, "__html__") else escape(str(label))
    return f'<option value="{escape(key)}"{" selected" if key in chosen else ""}>{words}</option>'
