"""Whether Qt can open a window here: what is missing is named, with what to install, before Qt would abort.

Qt ends the whole process where its platform plug-in cannot be loaded or no display answers; nothing can be
caught then. So the libraries are tried one by one beforehand, as the system's loader would.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Callable, Mapping

from analysis.errors import TautographError

#: Shared libraries that QtGui and QtWidgets need on Linux, and the Debian and Ubuntu packages that hold them
#: (read from the libraries' own lists of what they need, PySide6 6.11).
GUI_LIBRARIES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libxkbcommon.so.0": "libxkbcommon0",
}
#: And what the plug-in for an X11 display needs beside them.
X11_LIBRARIES = {
    "libX11-xcb.so.1": "libx11-xcb1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
}
WAYLAND_LIBRARIES = {
    "libwayland-client.so.0": "libwayland-client0",
    "libwayland-cursor.so.0": "libwayland-cursor0",
    "libwayland-egl.so.1": "libwayland-egl1",
}

WITHOUT_WINDOW = (
    "Without a window the same work is done by `tautograph analyse` and, as .html or .xlsx, "
    "`tautograph report`."
)


class DisplayError(TautographError):
    """No window can be opened on this computer as it is set up; says what to install or to do."""


def loads(library: str) -> bool:
    """Whether the system's loader finds this shared library and all that it needs."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def x11_answers() -> bool:
    """Whether a display answers where the environment says that one is."""
    try:
        xcb = ctypes.CDLL("libxcb.so.1")
    except OSError:
        return False
    xcb.xcb_connect.restype = ctypes.c_void_p
    xcb.xcb_connect.argtypes = (ctypes.c_char_p, ctypes.POINTER(ctypes.c_int))
    xcb.xcb_connection_has_error.argtypes = (ctypes.c_void_p,)
    xcb.xcb_disconnect.argtypes = (ctypes.c_void_p,)
    connection = xcb.xcb_connect(None, None)
    failed = bool(xcb.xcb_connection_has_error(connection))
    xcb.xcb_disconnect(connection)
    return not failed


def check_drawing(loads: Callable[[str], bool] = loads) -> None:
    """Make sure that Qt can draw without a display (reports as PDF).

    Raises
    ------
    DisplayError
        Names the libraries that are missing and the packages that hold them.
    """
    if sys.platform == "linux":
        _refuse_missing(GUI_LIBRARIES, loads, "Qt cannot draw here")
    try:
        import PySide6.QtGui  # noqa: F401
    except ImportError as error:
        raise DisplayError(f"Qt cannot be loaded: {error}. {_reinstall()}") from None


def check_window(
    environment: Mapping[str, str] = os.environ,
    loads: Callable[[str], bool] = loads,
    x11_answers: Callable[[], bool] = x11_answers,
) -> None:
    """Make sure that Qt can open a window.

    Parameters
    ----------
    environment : Mapping
        ``QT_QPA_PLATFORM``, ``DISPLAY`` and ``WAYLAND_DISPLAY`` decide which way Qt will take.
    loads, x11_answers : callable
        How to find out; given by tests.

    Raises
    ------
    DisplayError
        Names the libraries that are missing and the packages that hold them, or says that no display answers.
    """
    if sys.platform == "linux":
        _check_linux_window(environment, loads, x11_answers)
    check_drawing(loads)


def _check_linux_window(
    environment: Mapping[str, str], loads: Callable[[str], bool], x11_answers: Callable[[], bool]
) -> None:
    platform = environment.get("QT_QPA_PLATFORM", "").partition(";")[0].partition(":")[0]
    if platform not in ("", "xcb", "wayland"):
        return  # offscreen, vnc and the like need no display
    if platform != "xcb" and environment.get("WAYLAND_DISPLAY") and all(map(loads, WAYLAND_LIBRARIES)):
        return
    if not environment.get("DISPLAY"):
        if environment.get("WAYLAND_DISPLAY"):
            _refuse_missing({**GUI_LIBRARIES, **WAYLAND_LIBRARIES}, loads, "Qt cannot open a window here")
        raise DisplayError(
            "there is no display: neither DISPLAY nor WAYLAND_DISPLAY is set. Start from a desktop session "
            f"or on a virtual screen with `xvfb-run tautograph ...`. {WITHOUT_WINDOW}"
        )
    _refuse_missing({**GUI_LIBRARIES, **X11_LIBRARIES}, loads, "Qt cannot open a window here")
    if not x11_answers():
        raise DisplayError(
            f"the display {environment['DISPLAY']} does not answer or refuses this user; look at DISPLAY and "
            f"XAUTHORITY, or connect with `ssh -X`. {WITHOUT_WINDOW}"
        )


def _refuse_missing(libraries: Mapping[str, str], loads: Callable[[str], bool], what: str) -> None:
    missing = [name for name in libraries if not loads(name)]
    if missing:
        packages = " ".join(libraries[name] for name in missing)
        raise DisplayError(
            f"{what}: system libraries are missing: {', '.join(missing)}.\n"
            f"On Debian or Ubuntu: sudo apt-get install {packages}\n"
            f"Elsewhere: the packages that hold these files. {WITHOUT_WINDOW}"
        )


def _reinstall() -> str:
    return 'Install it again with: python -m pip install --force-reinstall "PySide6-Essentials<6.12"'
