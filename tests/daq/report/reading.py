"""Reads a page as a strict reader would: every element closed in its order, every attribute seen."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

__all__ = ["Element", "Page", "read"]

_EMPTY = frozenset({"meta", "link", "br", "hr", "img", "input"})


@dataclass
class Element:
    """One element with its text and what is within."""

    tag: str
    attributes: dict[str, str]
    parts: list[Element | str] = field(default_factory=list)

    @property
    def children(self) -> list[Element]:
        """The elements directly within."""
        return [part for part in self.parts if isinstance(part, Element)]

    @property
    def text(self) -> str:
        """The text directly within."""
        return "".join(part for part in self.parts if isinstance(part, str))

    def all(self, tag: str) -> list[Element]:
        """Every element of that name within, in their order."""
        return [e for child in self.children for e in ([child] if child.tag == tag else []) + child.all(tag)]

    def with_class(self, name: str) -> list[Element]:
        """Every element of that class within."""
        found = [child for child in self.children if name in child.attributes.get("class", "").split()]
        return found + [e for child in self.children for e in child.with_class(name)]

    @property
    def words(self) -> str:
        """All text within, blanks made single."""
        parts = [part if isinstance(part, str) else f" {part.words} " for part in self.parts]
        return " ".join("".join(parts).replace("\u00a0", " ").split())


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("document", {})
        self.stack = [self.root]
        self.doctype = ""

    def handle_decl(self, decl: str) -> None:
        self.doctype = decl

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(set(names)) == len(names), f"<{tag}> says an attribute twice: {names}"
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.stack[-1].parts.append(element)
        if tag not in _EMPTY:
            self.stack.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        inside_svg = any(element.tag == "svg" for element in self.stack)
        assert inside_svg, f"<{tag}/> closes itself outside of a drawing"
        self.handle_starttag(tag, attrs)
        self.stack.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.stack[-1].tag == tag, f"</{tag}> ends <{self.stack[-1].tag}>"
        self.stack.pop()

    def handle_data(self, data: str) -> None:
        self.stack[-1].parts.append(data)


@dataclass
class Page(Element):
    """The whole page."""

    doctype: str = ""

    def every(self) -> list[Element]:
        """All elements."""
        found, waiting = [], list(self.children)
        while waiting:
            element = waiting.pop(0)
            found.append(element)
            waiting = element.children + waiting
        return found

    def section(self, heading: str) -> Element:
        """The section with that heading."""
        for section in self.all("section"):
            if any(h.words == heading for h in section.children if h.tag == "h2"):
                return section
        raise AssertionError(f"no section {heading!r}")

    def headings(self) -> list[str]:
        """The headings of the sections."""
        return [h.words for h in self.all("h2")]


def read(html: str) -> Page:
    """Read a page; an AssertionError tells where it is not well-formed."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert [element.tag for element in reader.stack] == ["document"], "something is never closed"
    return Page("document", {}, reader.root.parts, doctype=reader.doctype)
