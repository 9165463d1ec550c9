"""Notes that people write: simple Markdown to markup that is safe to print, whatever was typed."""

import nh3
from markdown_it import MarkdownIt
from markupsafe import Markup

LONGEST_NOTES = 5000
"""Characters of notes that are read."""

_TAGS = {
    *("p", "em", "strong", "code", "pre", "ul", "ol", "li", "blockquote", "h3", "h4", "a", "br", "hr"),
    *("table", "thead", "tbody", "tr", "th", "td"),
}
_SCHEMES = {"http", "https", "mailto"}
_HEADINGS = {"h1": "h3", "h2": "h4", "h3": "h4", "h5": "h4", "h6": "h4"}
"""A page has its own headings above those of the notes."""

_READER = MarkdownIt("commonmark", {"html": False, "breaks": True, "maxNesting": 20}).enable("table").disable("image")


def html_of(text: str) -> Markup:
    """Return simple Markdown as markup that is safe to print: only what is on the list of allowed elements.

    Links lead to http, https and mail addresses, or within this site, and tell nobody where they were followed from.
    """
    text = text[:LONGEST_NOTES].encode("utf-8", "replace").decode()  # less what is half a character
    tokens = _READER.parse(text)
    for token in tokens:
        token.tag = _HEADINGS.get(token.tag, token.tag)
    written = _READER.renderer.render(tokens, _READER.options, {})
    clean = nh3.clean(
        written,
        tags=_TAGS,
        attributes={"a": {"href"}, "*": set()},
        url_schemes=_SCHEMES,
        link_rel="nofollow noopener noreferrer",
    )
    return Markup(clean)  # noqa: S704  sanitised just above
