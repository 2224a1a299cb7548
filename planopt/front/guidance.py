"""The guide from Python: a page as Markdown."""

from __future__ import annotations

from planopt.guide.pages import page, topics


def guide(topic: str | None = None) -> str:
    """Return a page of the guide as Markdown; without a topic the topics, one a line.

    Raises:
        BadInput: there is no such topic.
    """
    if topic is not None:
        return page(topic)
    return "".join(f"- `{name}`: {sentence}\n" for name, sentence in topics().items())
