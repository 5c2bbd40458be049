"""Takes the pictures of the README and the help: the real window on the sample shift, without a display.

Run it as ``.venv/bin/python tests/images/take_pictures.py [FOLDER]``; by default into resources/pictures.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PySide6.QtCore import QEventLoop, QTimer
from PySide6.QtWidgets import QApplication

from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.session import Session
from app.views.frame.theme import load_fonts

ROOT = Path(__file__).resolve().parents[2]
SIZE_PX = (1366, 768)
#: After the last job the exact picture of the crowd follows from a worker within some tenths of a second.
SETTLE_S = 1.5
#: A first run on a machine compiles the kernels.
PATIENCE_S = 900.0
#: Joint and cause of the trace that is shown: it has all four zones.
SHOWN = ("wheel-hub", "yielded")


def wait(session: Session) -> None:
    """Let the window work until the traces are judged."""
    stop = time.monotonic() + PATIENCE_S
    while session.analysis is None or session.jobs.running:
        rest(0.05)
        problems = [message for message in session.messages.history if message.kind == "problem"]
        if problems or time.monotonic() > stop:
            raise RuntimeError("\n".join(f"{m.text}\n{m.details}" for m in problems) or "no end in sight")


def rest(seconds: float) -> None:
    """Let the window work for a while."""
    loop = QEventLoop()
    QTimer.singleShot(round(seconds * 1000), loop.quit)
    loop.exec()


def look_at(window: MainWindow, joint: str, cause: str) -> None:
    """Show one joint, and choose its first trace with this likeliest cause."""
    session = window.session
    window.links.overview.joint_opened.emit(joint)
    causes = session.columns["cause"].values
    session.select([next(int(row) for row in window.table.table.order if causes[row] == cause)])


def take(window: MainWindow, file: Path) -> None:
    """Write what the window shows."""
    rest(SETTLE_S)
    if not window.grab().save(str(file)):
        raise OSError(f"{file} could not be written")
    print(f"{file}: {file.stat().st_size // 1024} KiB")


def main(folder: Path) -> None:
    """Take first screen, the joints at a glance, one joint, light and dark."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    app = QApplication(["tautograph"])
    load_fonts()
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        preferences = Preferences(Path(home) / "window.ini")
        preferences.look = "light"
        session = Session(user_name="line engineer")
        window = MainWindow(session, preferences)
        window.resize(*SIZE_PX)
        window.show()
        take(window, folder / "first-screen.png")
        window.menus.files.open_sample()
        wait(session)
        take(window, folder / "joints.png")
        look_at(window, *SHOWN)
        take(window, folder / "window.png")
        window.set_look("dark")
        take(window, folder / "window-dark.png")
        window.close()
    app.quit()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "resources" / "pictures")
