"""What is said where Qt could not open a window, before Qt gets the chance to abort."""

from __future__ import annotations

import sys

import pytest

from app.commands.libraries import GUI_LIBRARIES, X11_LIBRARIES, DisplayError, check_drawing, check_window
from tests.helpers.commands import BLOCK_QT, ROOT, run_command, run_python

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="system libraries are looked for on Linux")


def check(environment: dict[str, str], *, absent: tuple[str, ...] = (), answers: bool = True) -> None:
    check_window(environment, lambda name: name not in absent, lambda: answers)


def test_a_desktop_with_everything_is_let_through() -> None:
    check({"DISPLAY": ":0"})
    check({"WAYLAND_DISPLAY": "wayland-0"})
    check({"QT_QPA_PLATFORM": "offscreen"}, answers=False)


def test_missing_libraries_are_named_with_their_packages() -> None:
    with pytest.raises(DisplayError) as error:
        check({"DISPLAY": ":0"}, absent=("libxcb-cursor.so.0", "libEGL.so.1"))
    assert "libxcb-cursor.so.0" in str(error.value)
    assert "apt-get install libegl1 libxcb-cursor0" in str(error.value)


def test_offscreen_needs_the_drawing_libraries_only() -> None:
    check({"QT_QPA_PLATFORM": "offscreen"}, absent=("libxcb-cursor.so.0",))
    with pytest.raises(DisplayError, match="libegl1"):
        check({"QT_QPA_PLATFORM": "offscreen"}, absent=("libEGL.so.1",))
    with pytest.raises(DisplayError, match="libegl1"):
        check_drawing(lambda name: name != "libEGL.so.1")


def test_readme_and_the_build_name_what_the_program_looks_for() -> None:
    wanted = {*GUI_LIBRARIES.values(), *X11_LIBRARIES.values()}
    readme = (ROOT / "README.md").read_text(encoding="utf-8").partition("sudo apt-get install")[2]
    assert set(readme.partition("```")[0].replace("\\", " ").split()) == {"python3-venv", *wanted}
    assert wanted <= set((ROOT / ".ci" / "run").read_text(encoding="utf-8").split())


def test_no_display_is_said_with_what_works_without_one() -> None:
    with pytest.raises(
        DisplayError, match=r"neither DISPLAY nor WAYLAND_DISPLAY.*xvfb-run.*tautograph analyse"
    ):
        check({})


def test_a_display_that_does_not_answer_is_named() -> None:
    with pytest.raises(DisplayError, match=":7 does not answer"):
        check({"DISPLAY": ":7"}, answers=False)


def test_wayland_without_its_libraries_falls_back_to_x11_where_there_is_one() -> None:
    both = {"WAYLAND_DISPLAY": "wayland-0", "DISPLAY": ":0"}
    check(both, absent=("libwayland-cursor.so.0",))
    with pytest.raises(DisplayError, match="libwayland-cursor0"):
        check({"WAYLAND_DISPLAY": "wayland-0"}, absent=("libwayland-cursor.so.0",))


@pytest.mark.parametrize("display", ["", ":4711"])
def test_the_real_program_ends_with_a_sentence_not_an_abort(display: str) -> None:
    done = run_command("sample", QT_QPA_PLATFORM="", WAYLAND_DISPLAY="", DISPLAY=display)
    assert done.returncode == 3
    assert "tautograph: " in done.stderr
    assert "Traceback" not in done.stderr


def test_qt_that_cannot_be_loaded_is_told_as_such() -> None:
    code = BLOCK_QT + "import sys\nfrom app.commands.command_line import main\nsys.exit(main(['sample']))"
    done = run_python(code, QT_QPA_PLATFORM="offscreen")
    assert done.returncode == 3
    assert "Qt cannot be loaded" in done.stderr
    assert "Traceback" not in done.stderr
