"""Words to the user in one place: translation, notes on the bottom line, and errors."""

from __future__ import annotations

import html
import sys
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import TracebackType

from PySide6.QtCore import QCoreApplication, QObject, Signal

from analysis.errors import TautographError

CONTEXT = "Tautograph"


def tr(text: str, *values: object, **named: object) -> str:
    """The text in the user's language, with the values put in by ``str.format``."""
    words = QCoreApplication.translate(CONTEXT, text)
    return words.format(*values, **named) if values or named else words


def count_words(n: int, one: str, many: str) -> str:
    """A count with its noun: "1 trace", "2 400 traces" (thin groups of three, as in ISO 80000-1).

    Examples
    --------
    >>> count_words(1, "trace", "traces"), count_words(2400, "trace", "traces")
    ('1 trace', '2\\u202f400 traces')
    """
    return f"{grouped(n)} {tr(one) if n == 1 else tr(many)}"


def first_named(names: Sequence[str], most: int = 5) -> str:
    """The first names of a list, and a sign that there are more.

    Examples
    --------
    >>> first_named(["hub", "cover"]), first_named(["hub", "cover", "nut"], most=2)
    ('hub, cover', 'hub, cover …')
    """
    return ", ".join(names[:most]) + (" …" if len(names) > most else "")


def grouped(n: int) -> str:
    """A whole number in groups of three."""
    return f"{n:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")


@dataclass(frozen=True)
class Message:
    """What the bottom line shows."""

    text: str  #: One sentence.
    kind: str = "note"  #: "note" or "problem".
    details: str = ""  #: What can be copied: the whole story of a problem; empty where the sentence is all.
    #: What can be done, as a button says it, and what that is about; empty where nothing is offered.
    offer: str = ""
    subject: str = ""


class Messages(QObject):
    """The place that every note and error goes through."""

    posted = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.history: list[Message] = []

    def note(self, text: str) -> None:
        """Tell something that went as wanted."""
        self._post(Message(text))

    def problem(self, text: str, details: str = "", *, offer: str = "", subject: str = "") -> None:
        """Tell something that did not go as wanted, and what can be done."""
        self._post(Message(text, "problem", details, offer, subject))

    def error(self, error: BaseException) -> None:
        """Tell an error: our own in its own words, any other as a fault of the program with its trace."""
        if isinstance(error, OSError) and error.filename and error.strerror:
            self.problem(tr("{0}: {1}.", error.filename, error.strerror))  # without the number of the error
            return
        if isinstance(error, TautographError | OSError):
            self.problem(str(error))
            return
        story = "".join(traceback.format_exception(error))
        self.problem(
            tr("Something went wrong inside the program: {0}. Your data is untouched.", error), story
        )

    def _post(self, message: Message) -> None:
        self.history.append(message)
        self.posted.emit(message)


def install_excepthook(messages: Messages) -> Callable[[], None]:
    """Send what nobody caught to the bottom line (and the terminal); returns what puts the old hook back."""
    before = sys.excepthook

    def hook(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        before(kind, error, trace)
        if not issubclass(kind, KeyboardInterrupt):
            messages.error(error)

    sys.excepthook = hook

    def restore() -> None:
        sys.excepthook = before

    return restore


def plain_tip(text: str) -> str:
    """A tooltip that shows its text as it is: Qt takes for markup what looks like it, opens files, and waits.

    Examples
    --------
    >>> plain_tip("hub-7"), plain_tip("a < b")
    ('hub-7', '<qt>a &lt; b</qt>')
    """
    if "<" not in text and "&" not in text:
        return text
    return f"<qt>{html.escape(text, quote=False).replace(chr(10), '<br>')}</qt>"
