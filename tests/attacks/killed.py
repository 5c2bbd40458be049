"""A window that decides at a rhythm, and does other work beside that, until it is killed.

``python -m tests.attacks.killed SETTINGS FOLDER RHYTHM_MS [KIND FILE]``: a line for each decision and each
piece of work, with the time, as it is made. Kinds: see `OTHER_WORK`.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from analysis.listener import Listener
from analysis.pipeline import Analysis
from app.display.preferences import Preferences
from app.main_window import MainWindow
from app.session.deciding import set_note
from app.session.file_writing import WRITING
from app.session.session import Session


def save(window: MainWindow, file: Path) -> bool:
    """Save the workspace."""
    return window.menus.files.save_to(file)


def export(window: MainWindow, file: Path) -> bool:
    """Export the table, once more when it has been written."""
    return not _is_busy(window) and window.menus.exports.export_table(file)


def judge(window: MainWindow, _file: Path) -> bool:
    """Judge anew, whether the last judging has ended or not."""
    window.session.judge()
    return True


def follow(window: MainWindow, file: Path) -> bool:
    """Follow the folder of the file: begun once, looked at again and again."""
    watch = window.menus.folder.watch
    if not watch.folder:
        window.menus.folder.follow(str(file.parent))
    watch.look()
    return True


def report(window: MainWindow, file: Path) -> bool:
    """Write the report, once more when it has been written."""
    from analysis.report import build_reports
    from app.printing import ready_to_print
    from app.session.report_work import write_report

    session = window.session
    if session.analysis is None or _is_busy(window):
        return False
    ready_to_print()

    def write(path: Path, listener: Listener, analysis: Analysis = session.analysis) -> None:
        write_report(build_reports(analysis, listener=listener), path, listener)

    return session.files.write(file, write, "written")


def group(window: MainWindow, _file: Path) -> bool:
    """Group the table by the next attribute, folded or not; stand on another group."""
    session, table = window.session, window.table
    if session.analysis is None:
        return False
    names = ["", "joint", "tool"]
    session.set_view(group_by=names[(names.index(session.view.group_by) + 1) % len(names)])
    table.fold_all(on=bool(session.view.group_by == "tool"))
    return True


def year(window: MainWindow, file: Path) -> bool:
    """Open the archive beside the file, then write its year as pages, once more when they are written."""
    from analysis.plant.year_report import year_report
    from app.session.report_work import write_report
    from app.wiring.year import open_archive

    folder = str(file.parent / "archive")
    if _is_busy(window):
        return False
    if "year" not in window.menus.beside.open:
        window.menus.studies.show_year(folder)
        return True

    def write(path: Path, listener: Listener) -> None:
        seen = open_archive(folder, None, None)
        pages = year_report(seen.year, seen.care, folder, datetime.now(UTC), events=seen.events)
        write_report([pages], path, listener)

    return window.session.files.write(file, write, "written")


def share(_window: MainWindow, file: Path) -> bool:
    """Put a joint into the library that a plant shares, of the revision that is next."""
    from analysis.joint.joints_document import JointsDocument
    from analysis.joint.shared_joints import next_revision, put_shared

    title = "x" * 50_000
    text = f'[joints.a]\ntarget_torque_nm = 1.0\ntitle = "{title}"\n'
    document = JointsDocument.from_text(text, file.with_name("own.toml"))
    put_shared(document, "a", file, next_revision(file))
    return True


def _is_busy(window: MainWindow) -> bool:
    return window.session.analysis is None or any(
        kind.startswith(WRITING) for kind in window.session.jobs.running
    )


#: What is done beside deciding, at every third decision.
OTHER_WORK: dict[str, Callable[[MainWindow, Path], bool]] = {
    "saving": save, "exporting": export, "judging": judge, "following": follow, "reporting": report,
    "grouping": group, "year": year, "sharing": share,
}  # fmt: skip


def main(settings: str, folder: str, rhythm_ms: str, kind: str = "", file: str = "") -> None:
    """Work until killed."""
    app = QApplication([])
    window = MainWindow(Session(user_name="Tester"), Preferences(Path(settings)))
    window.show()
    window.menus.autosave.offer_recovery()
    window.menus.files.open([folder])
    session, timer = window.session, QTimer(interval=int(rhythm_ms))
    done = 0

    def work() -> None:
        nonlocal done
        if session.is_empty:
            return
        trace_id = session.traces.trace_ids[done % len(session.traces)]
        step = set_note(session.decisions, [trace_id], f"note {done}", session.signature())
        session.decide(step)
        print(f"decided {done} {time.time():.3f}", flush=True)
        if kind and done % 3 == 2 and OTHER_WORK[kind](window, Path(file)):
            print(f"{kind} {done} {time.time():.3f}", flush=True)
        done += 1

    timer.timeout.connect(work)
    timer.start()
    app.exec()


if __name__ == "__main__":
    main(*sys.argv[1:])
