"""Pages over a small record: one stored study with its assessment."""

from html.parser import HTMLParser

import pytest


class Page(HTMLParser):
    """Tags, attributes and text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.areas: dict[str, str] = {}
        self._area: str | None = None
        self._inert = 0
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        # What a template holds is no part of the page.
        self._inert += tag == "template"
        if self._inert:
            return
        self.tags.append((tag, dict(attrs)))
        if tag == "textarea":
            self._area = dict(attrs).get("name")
            self.areas[self._area] = ""

    def handle_endtag(self, tag):
        self._inert -= tag == "template"
        if tag == "textarea":
            self._area = None

    def handle_data(self, data):
        if self._area is not None:
            self.areas[self._area] += data
        if not self._inert:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def values(self):
        """What a browser would send for the page's forms: hidden fields, inputs and chosen options."""
        # A browser leaves out the first line break of a text area.
        found, select = {name: text.removeprefix("\n") for name, text in self.areas.items()}, None
        for tag, attributes in self.tags:
            name = attributes.get("name")
            if tag == "input" and name and attributes.get("type") not in {"file", "checkbox"}:
                found[name] = attributes.get("value") or ""
            elif tag == "input" and name and attributes.get("type") == "checkbox" and "checked" in attributes:
                found.setdefault(name, []).append(attributes.get("value") or "on")
            elif tag == "select":
                select = name
            elif tag == "option" and select and (select not in found or "selected" in attributes):
                found[select] = attributes.get("value") or ""
        return found


@pytest.fixture
def read():
    """Parse a page."""

    def _read(answer, status=200):
        assert answer.status_code == status, answer.text[:2000]
        assert answer.headers["Content-Type"].startswith("text/html")
        return Page(answer.text)

    return _read


@pytest.fixture
def visitor(app):
    """A browser without any token in its headers."""
    return app.test_client()
