"""Who listens while long work goes on: told how far it is, and asked whether it is still wanted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from analysis.errors import CancelledError


@dataclass(frozen=True)
class Listener:
    """Called between two steps of the work.

    Examples
    --------
    >>> Listener(lambda done, total, text: print(text, done, "of", total))(3, 8, "page")
    page 3 of 8
    """

    progress: Callable[[int, int, str], None] | None = None  #: (done, total, text)
    cancelled: Callable[[], bool] | None = None  #: True where the work is to be given up.

    def __call__(self, done: int, total: int, text: str) -> None:
        """Tell that so many of so many are done.

        Raises
        ------
        CancelledError
            Where the work is to be given up.
        """
        if self.cancelled is not None and self.cancelled():
            raise CancelledError("the work was stopped")
        if self.progress is not None:
            self.progress(done, total, text)


#: Nobody listens: the work is done to its end.
NOBODY = Listener()
