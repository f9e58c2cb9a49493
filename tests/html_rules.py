"""What is wrong with a page as HTML: the parser's own complaints, and rules of content that no parser sees.

The parser is tinyhtml5, which follows the parsing algorithm of the HTML standard (WHATWG, section 13.2) and lists each of
its parse errors. The rules of content are the standard's content models of the elements named (sections 4.3 to 4.10),
from memory.
"""

from collections import Counter
from collections.abc import Iterator
from xml.etree.ElementTree import Element

from tinyhtml5.parser import HTMLParser

BLOCKS = (
    "address article aside blockquote details dialog div dl fieldset figure footer form h1 h2 h3 h4 h5 h6 header hr main "
    "nav ol p pre search section table ul"
)
FLOW = frozenset(BLOCKS.split())
WORDS = "button h1 h2 h3 h4 h5 h6 label p pre span strong em small code"
CONTROLS = "a button details input label select textarea"
WORDS_ONLY, INTERACTIVE = frozenset(WORDS.split()), frozenset(CONTROLS.split())
CHILDREN = {
    "ul": {"li"},
    "ol": {"li"},
    "dl": {"dt", "dd", "div"},
    "tr": {"th", "td"},
    "select": {"option", "optgroup"},
}
ANYWHERE = {"script", "template"}
POINTS_AT = ("for", "aria-labelledby", "aria-describedby", "aria-controls", "list", "form")
NEEDED = {"img": ("alt",), "html": ("lang",), "input": (), "th": ("scope",), "progress": ("aria-label",)}


def wrong_in(html: str) -> list[str]:
    """Return each fault of a page in words."""
    parser = HTMLParser(namespace_html_elements=False)
    root = parser.parse(html)
    lines = html.splitlines()
    found = [f"{code} {data or ''} at: {_seen(lines, place)}" for place, code, data in parser.errors]
    return [*found, *_content(root), *_names(root)]


def _seen(lines: list[str], place: tuple[int, int]) -> str:
    line, column = place
    text = lines[line - 1] if 0 < line <= len(lines) else ""
    return text[max(column - 60, 0) : column + 20]


def _content(element: Element, around: tuple[str, ...] = ()) -> Iterator[str]:
    """Yield what stands where it must not stand, and what lacks an attribute that it needs."""
    name = element.tag if isinstance(element.tag, str) else ""
    if name.startswith("{"):
        return  # a drawing
    parent = around[-1] if around else ""
    if parent in CHILDREN and name not in CHILDREN[parent] | ANYWHERE:
        yield f"{name} in {parent}"
    if name in FLOW and (within := WORDS_ONLY.intersection(around)):
        yield f"{name} within {', '.join(sorted(within))}"
    if name in INTERACTIVE and element.get("type") != "hidden" and (within := {"a", "button"}.intersection(around)):
        yield f"{name} within {', '.join(sorted(within))}"
    yield from (f"{name} without {one}" for one in NEEDED.get(name, ()) if element.get(one) is None)
    for child in element:
        yield from _content(child, (*around, name))


def _names(root: Element) -> Iterator[str]:
    """Yield ids that are there twice, and references to ids that are not there."""
    elements = [one for one in root.iter() if isinstance(one.tag, str)]
    ids = Counter(one.get("id") for one in elements if one.get("id") is not None)
    yield from (f"id {name!r} {count} times" for name, count in ids.items() if count > 1 or not name)
    for one in elements:
        for attribute in POINTS_AT:
            wanted = (one.get(attribute) or "").split()
            yield from (f"{one.tag} {attribute}={name!r} points nowhere" for name in wanted if name not in ids)
        href = one.get("href") or ""
        if href.startswith("#") and len(href) > 1 and href[1:] not in ids:
            yield f"{one.tag} href={href!r} points nowhere"
