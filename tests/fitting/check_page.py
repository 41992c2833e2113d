#!/usr/bin/env python3
"""Reads a drawing (xml FILE) or a report (page FILE) strictly; prints what is wrong, if anything.

A page must be well-formed, close every tag it opens, fetch nothing, run nothing, give every image
an alternative text and an SVG of its own, and have a target for every link within it.
"""
import base64
import html.parser
import sys
import xml.etree.ElementTree

VOID = {"br", "col", "hr", "img", "link", "meta", "source"}
SVG_PREFIX = "data:image/svg+xml;base64,"


class Page(html.parser.HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.faults, self.ids, self.links = [], [], [], []
        self.images = 0

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag not in VOID:
            self.open.append(tag)
        if "id" in attrs:
            self.ids.append(attrs["id"])
        if tag in {"script", "iframe", "object", "embed", "link", "base", "form"}:
            self.faults.append(f"<{tag}> has no place here")
        for name, value in attrs.items():
            if name.startswith("on"):
                self.faults.append(f"handler {name}")
            if name in {"src", "srcset", "href"} and "//" in value.split(",")[0]:
                self.faults.append(f"{name} leaves the page: {value[:60]}")
        if tag == "a":
            self.links.append(attrs.get("href", ""))
        if tag == "img":
            self.image(attrs)
        if tag == "source":
            self.drawing(attrs.get("srcset", ""))

    def image(self, attrs):
        self.images += 1
        if len(attrs.get("alt", "")) < 20:
            self.faults.append("an image without alternative text")
        self.drawing(attrs.get("src", ""))

    def drawing(self, source):
        if not source.startswith(SVG_PREFIX):
            self.faults.append("an image that is no embedded SVG")
            return
        svg = base64.b64decode(source[len(SVG_PREFIX):], validate=True)
        xml.etree.ElementTree.fromstring(svg)
        if b"<script" in svg:
            self.faults.append("a script in a drawing")

    def handle_startendtag(self, tag, attrs):
        if tag not in VOID:
            self.faults.append(f"<{tag} /> closes itself")
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> closes nothing that is open")


def check_page(text):
    xml.etree.ElementTree.fromstring(text)
    page = Page()
    page.feed(text)
    page.close()
    faults = page.faults + [f"<{tag}> is never closed" for tag in page.open]
    faults += [f"id {each} twice" for each in set(page.ids) if page.ids.count(each) > 1]
    faults += [f"link to {each}" for each in page.links if each[:1] != "#" or each[1:] not in page.ids]
    if page.images == 0:
        faults.append("no image at all")
    return faults


def main():
    kind, path = sys.argv[1:]
    with open(path, encoding="utf-8") as file:
        text = file.read()
    try:
        faults = check_page(text) if kind == "page" else []
        if kind == "xml":
            xml.etree.ElementTree.fromstring(text)
    except xml.etree.ElementTree.ParseError as error:
        faults = [f"not well-formed: {error}"]
    print("\n".join(faults), end="")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
