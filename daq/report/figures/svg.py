"""A matplotlib figure as SVG that can stand within an HTML page.

Text stays text: it is found by a search, read out, drawn in the page's own type,
and small. No style attribute is left, so that the page's content policy can
forbid them; ids begin with the figure's name, so that two figures don't meet.
Nothing in it depends on the clock or on chance.
"""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["inline_svg"]

_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_ROUNDED = ("d", "x", "y", "transform", "width", "height", "viewBox", "stroke-width", "stroke-dasharray")
_DROPPED_STYLES = frozenset({"font-family", "font", "font-stretch", "font-variant", "font-style"})
_DEFAULTS = {"stroke-linecap": "butt", "stroke-linejoin": "round", "stroke-dashoffset": "0", "opacity": "1"}


def inline_svg(figure: Figure, *, name: str, title: str, description: str) -> str:
    """Draw a figure.

    Args:
        figure: what to draw.
        name: letters, digits and hyphens; unique on the page.
        title: a short name for who can't see it.
        description: what is to be seen.
    """
    buffer = io.BytesIO()
    figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    root = ET.fromstring(buffer.getvalue())
    for element in root.iter():
        _plain(element)
    _without_baggage(root)
    _name_ids(root, name)
    _flatten(root)
    root.attrib = {
        "class": "plot",
        "viewBox": root.attrib["viewBox"],
        "role": "img",
        "aria-labelledby": f"{name}-title {name}-description",
        "stroke-linejoin": "round",
    }
    for place, (tag, text) in enumerate((("title", title), ("desc", description))):
        words = ET.Element(tag, {"id": f"{name}-{'title' if tag == 'title' else 'description'}"})
        words.text = text
        root.insert(place, words)
    return ET.tostring(root, encoding="unicode")


def _plain(element: ET.Element) -> None:
    """Names without namespaces, styles as attributes, coordinates to a hundredth of a point."""
    element.tag = element.tag.partition("}")[2] or element.tag
    attributes: dict[str, str] = {}
    for key, value in element.attrib.items():
        key = key.partition("}")[2] or key
        if key == "style":
            attributes.update(_styles(value))
        elif not (key == "transform" and re.fullmatch(r"rotate\(-?0(\.0+)? [^)]*\)", value)):
            attributes[key] = value
    element.attrib = {
        key: _rounded(" ".join(value.split())) if key in _ROUNDED else value
        for key, value in attributes.items()
    }
    if element.tag != "text":
        element.text = None
    element.tail = None


def _styles(style: str) -> dict[str, str]:
    found = {}
    for each in style.split(";"):
        key, colon, value = (part.strip() for part in each.partition(":"))
        if colon and key not in _DROPPED_STYLES and _DEFAULTS.get(key) != value:
            found[key] = value.removesuffix("px") if key == "font-size" else value
    return found


def _rounded(value: str) -> str:
    return _NUMBER.sub(lambda match: f"{float(match[0]):.2f}".rstrip("0").rstrip("."), value)


def _without_baggage(root: ET.Element) -> None:
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in {"metadata", "style"}:
                parent.remove(child)


def _name_ids(root: ET.Element, name: str) -> None:
    """Keep only the ids that something refers to, with the figure's name before them."""
    used = set()
    for element in root.iter():
        for key, value in element.attrib.items():
            if key == "href":
                used.add(value.removeprefix("#"))
            used.update(_REFERENCE.findall(value))
    for element in root.iter():
        if "id" in element.attrib:
            own = element.attrib.pop("id")
            if own in used:
                element.attrib["id"] = f"{name}-{own}"
        for key, value in list(element.attrib.items()):
            if key == "href":
                element.attrib[key] = f"#{name}-{value.removeprefix('#')}"
            else:
                element.attrib[key] = _REFERENCE.sub(rf"url(#{name}-\1)", value)


def _flatten(element: ET.Element) -> None:
    """Take out groups that say nothing, and say once what all marks of a group share."""
    children: list[ET.Element] = []
    for child in list(element):
        _flatten(child)
        if child.tag in {"g", "defs"} and not len(child):
            continue
        children += list(child) if child.tag == "g" and not child.attrib else [child]
    element[:] = children
    if len(children) > 1 and all(child.tag == "use" for child in children):
        _share(element, children)


def _share(group: ET.Element, marks: list[ET.Element]) -> None:
    for key in [key for key in marks[0].attrib if key not in {"x", "y", "href"}]:
        value = marks[0].attrib[key]
        if key not in group.attrib and all(mark.attrib.get(key) == value for mark in marks):
            group.attrib[key] = value
            for mark in marks:
                del mark.attrib[key]
