"""Pages as trees, as tests look at them: parsed as a browser parses, which is done in a moment.

An element answers to what Beautiful Soup's answers to, as far as tests ask.
"""

from collections.abc import Iterator

from selectolax.lexbor import LexborHTMLParser, LexborNode

LISTS = {"class", "rel", "headers", "sandbox"}
"""Attributes that hold words."""


def tree_of(text: str) -> "Element":
    """Return the root of a page, or of a page around a fragment of one."""
    parser = LexborHTMLParser(text)
    return Element(parser.css_first("html"), parser)


class Element:
    """One element of a page.

    Parameters
    ----------
    node : LexborNode
        The element.
    parser : LexborHTMLParser
        What it belongs to, and must outlive it.
    """

    __slots__ = ("_node", "_parser")

    def __init__(self, node: LexborNode, parser: LexborHTMLParser) -> None:
        self._node = node
        self._parser = parser

    def __repr__(self) -> str:
        return self._node.html

    __str__ = __repr__

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Element) and self._node.html == other._node.html

    def __hash__(self) -> int:
        return hash(self._node.html)

    def __getattr__(self, name: str) -> "Element | None":
        """Return the first element within that has a name, such as `row.th`."""
        if name.startswith("_"):
            raise AttributeError(name)
        return self.select_one(name)

    # ---------------------------------------------------------------- what it is

    @property
    def name(self) -> str:
        """Return what kind of element it is."""
        return self._node.tag

    @property
    def attrs(self) -> dict[str, str | list[str]]:
        """Return its attributes; those without a value are empty."""
        found = {name: value or "" for name, value in self._node.attributes.items()}
        return {name: value.split() if name in LISTS else value for name, value in found.items()}

    def __getitem__(self, name: str) -> str | list[str]:
        return self.attrs[name]

    def get(self, name: str, default: str | None = None) -> str | list[str] | None:
        """Return an attribute, or the default where it is missing."""
        return self.attrs.get(name, default)

    def has_attr(self, name: str) -> bool:
        """Return whether it has an attribute."""
        return name in self._node.attributes

    # ---------------------------------------------------------------- what it says

    def get_text(self, between: str = "", strip: bool = False) -> str:
        """Return all that is written in it, from the beginning to the end."""
        texts = self.stripped_strings if strip else self._strings()
        return between.join(texts)

    @property
    def text(self) -> str:
        """Return all that is written in it."""
        return self.get_text()

    @property
    def string(self) -> str | None:
        """Return what is written in it, where that is all there is."""
        contents = self.contents
        if len(contents) != 1:
            return None
        return contents[0].string if isinstance(contents[0], Element) else contents[0]

    @property
    def stripped_strings(self) -> Iterator[str]:
        """Return every piece of text without the space around it, and no empty ones."""
        return filter(None, (text.strip() for text in self._strings()))

    def _strings(self) -> Iterator[str]:
        for node in self._node.traverse(include_text=True):
            if node.is_text_node and node.parent.tag not in ("script", "style"):
                yield node.text_content

    # ---------------------------------------------------------------- what is in it and around it

    def select(self, selector: str) -> list["Element"]:
        """Return the elements within that a selector matches, each once."""
        found = {node.mem_id: node for node in self._node.css(selector)}
        found.pop(self._node.mem_id, None)
        return [Element(node, self._parser) for node in found.values()]

    def select_one(self, selector: str) -> "Element | None":
        """Return the first of them, if any."""
        return next(iter(self.select(selector)), None)

    def find_all(self, name: str = "*", attrs: dict[str, str] | None = None, **more: str) -> list["Element"]:
        """Return the elements within by name and attributes; `class_` is one of its classes, `string` its text."""
        wanted = (attrs or {}) | more
        string = wanted.pop("string", None)
        tests = (f'[class~="{v}"]' if key == "class_" else f'[{key}="{v}"]' for key, v in wanted.items())
        return [one for one in self.select(name + "".join(tests)) if string is None or one.string == string]

    def find(self, name: str = "*", attrs: dict[str, str] | None = None, **more: str) -> "Element | None":
        """Return the first of them, if any."""
        return next(iter(self.find_all(name, attrs, **more)), None)

    @property
    def children(self) -> list["Element"]:
        """Return the elements in it, not those in these."""
        return [Element(node, self._parser) for node in self._node.iter()]

    @property
    def contents(self) -> list["Element | str"]:
        """Return the elements and texts in it, not those in these."""
        nodes = self._node.iter(include_text=True)
        return [node.text_content if node.is_text_node else Element(node, self._parser) for node in nodes]

    @property
    def following(self) -> list["Element"]:
        """Return the elements after it, within the same one."""
        found, node = [], self._node.next
        while node is not None:
            if node.is_element_node:
                found.append(Element(node, self._parser))
            node = node.next
        return found

    def within(self, selector: str) -> "Element | None":
        """Return the nearest element around it that a selector matches, if any."""
        matched = {node.mem_id for node in self._parser.css(selector)}
        node = self._node.parent
        while node is not None and node.mem_id not in matched:
            node = node.parent
        return node and Element(node, self._parser)
