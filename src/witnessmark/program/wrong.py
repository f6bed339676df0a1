"""What the reader raises inside itself when a line cannot be carried out; it becomes a remark with its line."""

from __future__ import annotations


class Wrong(ValueError):
    """A line that cannot be read or carried out, in words for a maker."""
