"""Reads papers back: the text of each page, the fonts used, the addresses linked."""

import io

import pypdf
import pytest


class ReadPaper:
    """A PDF read by pypdf, a library that had no part in writing it."""

    def __init__(self, pdf):
        self.reader = pypdf.PdfReader(io.BytesIO(pdf))
        self.pages = [page.extract_text() for page in self.reader.pages]
        self.text = "\n".join(self.pages)

    @property
    def flat(self):
        """All text with line breaks and runs of spaces as one space."""
        return " ".join(self.text.split())

    @property
    def fonts(self):
        """(name, embedded) of every font any page names."""
        found = set()
        for page in self.reader.pages:
            for reference in page["/Resources"]["/Font"].values():
                font = reference.get_object()
                embedded = "/FontFile2" in font.get("/FontDescriptor", {})
                found.add((font["/BaseFont"], embedded))
        return found

    @property
    def links(self):
        notes = (n.get_object() for p in self.reader.pages for n in p.get("/Annots", []))
        return {note["/A"]["/URI"] for note in notes}


@pytest.fixture
def read():
    return ReadPaper
