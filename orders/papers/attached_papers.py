"""A stored paper as the file that goes with a mail: its bytes stay in the one row they have."""

from typing import Final

from blendshop.outbox.attachments import AttachedFile, register_attachment
from orders.models import Paper

KIND: Final = "paper"


def attached(paper: Paper) -> tuple[str, str]:
    """Kind and key by which a mail names the paper."""
    return KIND, str(paper.pk)


def register() -> None:
    register_attachment(KIND, _read)


def _read(key: str) -> AttachedFile | None:
    paper = Paper.objects.filter(pk=key).first() if key.isdecimal() else None
    if paper is None:
        return None
    return AttachedFile(f"{paper.record}.pdf", bytes(paper.pdf), "application/pdf")
