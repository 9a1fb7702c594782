"""A page as the standard library reads it."""

from html.parser import HTMLParser

FETCHING = {"script", "link", "iframe", "object", "embed", "img", "base", "form", "audio", "video"}
"""Elements that load or send (HTML standard, from memory)."""


class Reader(HTMLParser):
    """Elements with their attributes, and the text of a page, as the standard library reads it."""

    def __init__(self, page):
        super().__init__()
        self.elements, self.texts = [], []
        self.feed(page)
        self.close()
        self.text = " ".join("".join(self.texts).split())

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.texts.append(data)

    def values(self, name):
        return [attrs[name] for _, attrs in self.elements if name in attrs]
