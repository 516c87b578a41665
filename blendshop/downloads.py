"""A file for the person who asked and for nobody's cache."""

from django.http import HttpResponse


def private_file(
    content: bytes | str, content_type: str, name: str, *, shown: bool = False
) -> HttpResponse:
    """The file as ``name``: ``shown`` in the browser, else saved."""
    response = HttpResponse(content, content_type=content_type)
    disposition = "inline" if shown else "attachment"
    response["Content-Disposition"] = f'{disposition}; filename="{name}"'
    response["Cache-Control"] = "private, no-store"
    return response


def private_pdf(pdf: bytes, name: str) -> HttpResponse:
    """A PDF shown in the browser; ``name`` without its suffix."""
    return private_file(pdf, "application/pdf", f"{name}.pdf", shown=True)
