"""A paragraph that breaks its lines once for each width.

ReportLab breaks them whenever it asks how tall something is: measured, put into a frame, and in a
table cell thrice. For a label that is half of what drawing it takes.
"""

from reportlab.platypus import Paragraph


class SetOnce(Paragraph):
    """The same lines as ReportLab's, remembered."""

    _set_at: float | None = None

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        # Splitting throws the lines away.
        if self._set_at == available_width and hasattr(self, "blPara"):
            return self.width, self.height
        size: tuple[float, float] = super().wrap(available_width, available_height)
        self._set_at = available_width
        return size
