"""The checker of pages sees what it is for: each fault is told, and a page in order is not."""

import pytest

from tests.html_rules import wrong_in

GOOD = '<!doctype html><html lang="en"><head><title>t</title></head><body>{}</body></html>'


@pytest.mark.parametrize(
    "part",
    [
        "<p>a<b>b</b></p>",
        '<ul><li><a href="/x">x</a></li></ul>',
        '<label for="x">X</label><input id="x"><svg><use href="#m"/></svg><i id="m"></i>',
        "<table><thead><tr><th scope='col'>a</th></tr></thead><tbody><tr><td>b</td></tr></tbody></table>",
    ],
)
def test_a_page_in_order_has_no_fault(part: str) -> None:
    assert wrong_in(GOOD.format(part)) == []


@pytest.mark.parametrize(
    ("part", "word"),
    [
        ("<p>a<div>b</div></p>", "p"),
        ("<b>a", "b"),
        ("<a href='x'><button>y</button></a>", "button within a"),
        ("<ul><p>x</p></ul>", "p in ul"),
        ("<span><div>x</div></span>", "div within span"),
        ("<i id='a'></i><i id='a'></i>", "'a' 2 times"),
        ("<label for='no'>x</label>", "points nowhere"),
        ("<a href='#no'>x</a>", "points nowhere"),
        ("<img src='x'>", "img without alt"),
        ("<i class='a' class='b'></i>", "attribute"),
        ("<table><tr><p>x</p></tr></table>", "table"),
        ("a & b &nosuch; c", "entity"),
    ],
)
def test_each_fault_is_told(part: str, word: str) -> None:
    assert any(word in one for one in wrong_in(GOOD.format(part))), wrong_in(GOOD.format(part))


def test_a_page_without_its_type_is_told() -> None:
    assert wrong_in("<html lang='en'><title>t</title></html>")
