"""``manage.py draftlabel``: exit status 0 drafted, 2 bad request."""

from typing import Any

from formulas.answers.label import ScreenedLabelAnswer
from formulas.contracts.label_drafts import label_draft
from formulas.management.label_tables import draft_table
from formulas.management.request_command import RequestCommand


class Command(RequestCommand[ScreenedLabelAnswer]):
    help = "Draft a label from a JSON request; exit status 2 for a bad request."

    def answer(self, body: Any) -> ScreenedLabelAnswer:
        return label_draft(body)

    def table(self, answer: ScreenedLabelAnswer) -> str:
        return draft_table(answer)
