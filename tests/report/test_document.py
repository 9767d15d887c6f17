from html.parser import HTMLParser

import pytest

from pairing.report.document import Bullets, Document, Figure, Heading, Paragraph, Table, to_html, to_markdown
from pairing.report.figures import Mark, Row, as_file, intervals, points

NASTY = "<script>alert('x')</script>\"><img src=http://evil/x onerror=alert(1)> & | *b* [l](http://e) `c`"


class Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.text = [], [], ""

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.text += data


def _document(word):
    row = Row(word, 2.0, 1.0, 3.0, (Mark(1.5, word),), word)
    return Document(
        word,
        (
            Heading(word),
            Paragraph(word),
            Paragraph(word, quiet=True),
            Bullets((word,), tick=True),
            Bullets((word,), ordered=True),
            Table((word, word + ">"), ((word, word),), caption=word),
            Figure(intervals([row], word, word, log=True, line=1.0), word),
            Figure(points([1], [5], [word], word, filled=[True]), word),
        ),
        foot=word,
    )


def read(html):
    reader = Reader()
    reader.feed(html)
    return reader


def test_typed_text_stays_text():
    plain, nasty = read(to_html(_document("plain"))), read(to_html(_document(NASTY)))
    assert plain.tags == nasty.tags
    assert [name for name, _ in plain.attributes] == [name for name, _ in nasty.attributes]
    assert NASTY in nasty.text
    assert "script" not in nasty.tags


def test_the_page_asks_for_nothing():
    page = to_html(_document("plain"))
    found = read(page)
    assert not {"script", "link", "img", "iframe", "object"} & set(found.tags)
    assert not {"src", "href", "srcset"} & {name for name, _ in found.attributes}
    assert "default-src 'none'" in page
    assert "url(" not in page
    assert "http://" not in page
    assert "https://" not in page


def test_markdown_signs_are_escaped():
    text = to_markdown(_document(NASTY))
    assert "<script" not in text.replace("\\<", "")
    for line in text.splitlines():
        if line.startswith("| "):
            assert line.replace("\\|", "").count("|") == 3


def test_a_picture_stands_on_its_own_as_a_file():
    from xml.etree.ElementTree import fromstring

    for svg in (
        intervals([Row("plum & mint", 2.0, 1.0, 3.0)], "g/kg", "Doses"),
        points([], [], [], "empty", filled=[]),
    ):
        assert fromstring(as_file(svg)).tag == "{http://www.w3.org/2000/svg}svg"


def test_pictures_say_what_they_show():
    svg = intervals([Row("plum", 2.0, 1.0, 3.0, shown="2 g/kg")], "g/kg", "Doses of plum")
    assert 'role="img"' in svg
    assert 'aria-label="Doses of plum"' in svg
    assert "2 g/kg" in svg


@pytest.mark.parametrize("log", [False, True])
def test_a_longer_interval_is_drawn_longer(log):
    def width(low, high):
        svg = intervals([Row("a", 2, low, high), Row("b", 2, 0.5, 8)], "g/kg", "t", log=log)
        return float(svg.split('<rect x="')[1].split('width="')[1].split('"')[0])

    assert width(1, 4) > width(1.9, 2.1)


def test_nothing_to_draw_and_unknown_values_still_make_a_picture():
    assert intervals([], "g/kg", "empty").endswith("</svg>")
    assert points([], [], [], "empty", filled=[]).endswith("</svg>")
    svg = intervals([Row("a", float("nan"), float("nan"), float("nan"))], "g/kg", "t")
    assert "nan" not in svg
