"""A page as a parser of HTML reads it, by the standard's own algorithm (html5lib; WHATWG HTML, 13.2)."""

import base64
import re

import html5lib
import pytest

from addon.core.pictures import page

NAMES = ("<script>alert(1)</script>", '" onload="x', "a & b", "tab\there", "]]>", "{--at}", "砖 42")
PHOTO = page.Photo(b"\xff\xd8\xff\x00", "image/jpeg", 4, 3, 'The build "<b>"')


def parsed(text: str):
    """The page as a tree; ParseError at the first thing that is no HTML."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)


def with_all(*words: str) -> str:
    return page.page(
        words[0],
        [
            page.words(words[0], "warn"),
            page.figures((name, name) for name in words),
            page.section(words[0], page.pair(PHOTO, PHOTO, words[:2]), page.names(words[0], words)),
            page.charts([('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"></svg>', words[0])]),
            page.table(words[0], words[:2], [(name, 0.12345) for name in words]),
        ],
    )


@pytest.mark.parametrize("first", NAMES)
def test_any_names_give_html_that_says_them(first):
    words = (first, *NAMES)
    root = parsed(with_all(*words))
    shown = "".join(root.itertext())
    for name in words:
        assert name.replace("\t", "\ufffd") in shown
    assert len(list(root.iter("script"))) == 1
    assert not [each for each in root.iter() for name in each.attrib if name.startswith("on")]


def test_it_refers_to_nothing_beside_itself():
    root = parsed(with_all(*NAMES))
    for element in root.iter():
        for name in ("src", "href", "srcset", "poster", "data", "action"):
            assert element.get(name, "data:").startswith("data:")
    assert "url(" not in re.sub(r"data:[^\"]*", "", with_all(*NAMES))
    (rules,) = [each.get("content") for each in root.iter("meta") if each.get("http-equiv")]
    assert rules.startswith("default-src 'none';")


def test_pictures_are_whole_within_it_and_have_words():
    images = list(parsed(with_all(*NAMES)).iter("img"))
    assert len(images) == 2
    for image in images:
        assert base64.b64decode(image.get("src").removeprefix("data:image/jpeg;base64,")) == PHOTO.content
        assert (image.get("width"), image.get("height"), image.get("alt")) == ("4", "3", PHOTO.alt)
    (slider,) = parsed(with_all(*NAMES)).iter("input")
    assert slider.get("type") == "range"
    assert slider.get("aria-label")


def test_many_names_are_counted():
    told = "".join(parsed(page.page("t", [page.names("all", [f"n{n}" for n in range(300)], 5)])).itertext())
    assert "n0, n1, n2, n3, n4 and 295 more" in told


def test_numbers_of_a_table_stand_to_the_right():
    (row,) = parsed(page.page("t", [page.table("c", ("name", "value"), [("a", 0.12345)])])).iter("tbody")
    cells = list(row.iter("td"))
    assert [(cell.text, cell.get("class")) for cell in cells] == [("a", None), ("0.123", "number")]


def test_equal_sections_give_equal_text():
    assert with_all(*NAMES) == with_all(*NAMES)
