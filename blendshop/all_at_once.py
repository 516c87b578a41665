"""Many tables in one step of a migration.

After each ``CreateModel`` Django draws all models anew that hang together with it, and here all do:
a new database took longer for that than for its tables. In one step they are drawn once.
"""

from collections.abc import Sequence
from typing import Any

from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation, OperationCategory
from django.db.migrations.state import ProjectState


class CreateModels(Operation):
    """Create the tables of ``models``, whose foreign keys may point at each other in any order."""

    category = OperationCategory.ADDITION
    serialization_expand_args = ["models"]

    def __init__(self, models: Sequence[CreateModel]) -> None:
        self.models = models

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        vars(state).pop("apps", None)  # what was drawn lacks them; it is drawn again when needed
        for model in self.models:
            model.state_forwards(app_label, state)

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        for model in self.models:
            model.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self, app_label: str, schema_editor: Any, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        for model in reversed(self.models):
            model.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        return f"Create {len(self.models)} models"
