"""The last step of every spreadsheet: put on the disk, or the system's own reason why not."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from xlsxwriter import Workbook


def close_workbook(book: Workbook) -> None:
    """Write the workbook.

    Raises
    ------
    OSError
        Where the file cannot be written; the library tells of a full disk by an error of its own kind, which
        nobody who writes files looks for.
    """
    from xlsxwriter.exceptions import FileCreateError

    try:
        book.close()
    except FileCreateError as error:
        reason = error.args[0] if error.args else None
        raise reason if isinstance(reason, OSError) else OSError(str(error)) from error
