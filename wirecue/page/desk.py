"""What the page works on: a folder, the design in work, if there is one, and surveys that are on their way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from wirecue.design_names import is_design_name
from wirecue.page.document import Document
from wirecue.page.files import Folder
from wirecue.page.shared import Shared
from wirecue.page.survey_walk import SurveyWalk
from wirecue.surveying import KEPT_ENDING


@dataclass
class Desk:
    """One `wirecue page`, for all its tabs."""

    folder: Folder
    shared: Shared | None = None
    """The design in work with all that follows from it; None until one was chosen."""
    _surveys: dict[str, SurveyWalk] = field(default_factory=dict)

    def open(self, name: str) -> None:
        """Take a design file of the folder into work. Raises OutsideError and DesignFileError."""
        text = self.folder.read(name)
        if self.shared is None:
            self.shared = Shared(Document(text, name), self.folder)
        else:
            self.shared.document.open(text, name)

    def begin(self, typed: str, text: Callable[[str], str]) -> None:
        """Write a new design of that name and take it into work. Raises what `Folder.make` raises."""
        self.open(self.folder.make(typed, text))

    def survey(self, name: str) -> SurveyWalk:
        """Return the survey of that name, on its way or begun. Raises what `SurveyWalk` raises."""
        if name not in self._surveys or not self._surveys[name].is_current:
            self._surveys[name] = SurveyWalk(self.folder, name)
        return self._surveys[name]

    def surveyed(self, name: str) -> None:
        """Let go of a survey: it has ended or was forgotten."""
        self._surveys.pop(name, None)

    def stopped_surveys(self) -> list[str]:
        """Return the names of the designs to be whose answers are kept in the folder."""
        found = (path.name.removesuffix(KEPT_ENDING) for path in self.folder.root.glob(f"*{KEPT_ENDING}"))
        return sorted(name for name in found if is_design_name(name))
