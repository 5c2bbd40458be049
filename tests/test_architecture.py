"""The house rules that a machine can check: directions of imports, types, style, names, things not used."""

from __future__ import annotations

import ast
import functools
import importlib.metadata
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.commands import BLOCK_QT, run_python

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("analysis", "app", "resources", "sample_traces")
SOURCES = [path for name in PACKAGES for path in sorted((ROOT / name).rglob("*.py"))]
TESTS = sorted((ROOT / "tests").rglob("*.py"))

#: Names that say nothing of what is inside.
EMPTY_NAMES = {"utils", "util", "helpers", "helper", "common", "misc", "manager", "base", "tools"}

#: What was tried and costs too much or hides failures, and what to use instead (DEVELOPERS.md says why).
NOT_USED = {
    "QTableWidget": "a model over numpy indices",
    "QSortFilterProxyModel": "a model over numpy indices",
    "processEvents": "a job in the background",
    "setUseOpenGL": "reduce before the item",
    "clipToView": "x does not increase evenly here",
}


def checked(*command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout[-6000:]}{done.stderr[-2000:]}"


def test_style() -> None:
    checked("ruff", "check", ".")


def test_format() -> None:
    checked("ruff", "format", "--check", ".")


def test_types() -> None:
    checked("mypy")


def test_imports_run_downward() -> None:
    code = "import sys; from importlinter.cli import lint_imports_command as c; sys.exit(c())"
    done = run_python(code)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]


#: Modules that importing one of them may bring, one after another, before anything is asked of it.
LONGEST_CHAIN = 12


def imported_at_once(path: Path, known: set[str]) -> set[str]:
    """Modules of the program that come with a module when it is imported; those for types do not."""
    found: set[str] = set()

    def walk(body: list[ast.stmt]) -> None:
        for node in body:
            if isinstance(node, ast.If):
                walk(node.orelse if "TYPE_CHECKING" in ast.unparse(node.test) else [*node.body, *node.orelse])
            elif isinstance(node, ast.ClassDef | ast.Try | ast.With):
                walk(node.body)
            elif isinstance(node, ast.Import):
                found.update(alias.name for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = {f"{node.module}.{alias.name}" for alias in node.names}
                found.update((names & known) or {node.module})

    walk(ast.parse(path.read_text(encoding="utf-8")).body)
    return found & known


def test_no_chain_of_imports_is_long() -> None:
    paths = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
        for path in SOURCES
    }
    imports = {name: imported_at_once(path, set(paths)) - {name} for name, path in paths.items()}

    @functools.cache
    def longest(name: str) -> tuple[str, ...]:
        return (name, *max(map(longest, imports[name]), key=len, default=()))

    chain = max(map(longest, imports), key=len)
    assert len(chain) <= LONGEST_CHAIN, " -> ".join(chain)


def test_every_part_of_the_analysis_imports_without_qt() -> None:
    modules = [
        ".".join(p.relative_to(ROOT).with_suffix("").parts)
        for p in SOURCES
        if p.is_relative_to(ROOT / "analysis")
    ]
    names = [name.removesuffix(".__init__") for name in modules]
    done = run_python(
        BLOCK_QT + f"import importlib\nfor name in {names!r}:\n    importlib.import_module(name)"
    )
    assert done.returncode == 0, done.stderr[-3000:]


@pytest.mark.slow
def test_the_tests_of_the_analysis_pass_where_importing_qt_raises() -> None:
    # One way through the analysis: that no module imports Qt is held by the contracts and the test above.
    arguments = [
        "tests/analysis/test_pipeline.py",
        "tests/analysis/test_results.py",
        "tests/analysis/test_operations.py",
        "tests/analysis/report/test_html.py",
        "tests/analysis/report/test_workbook.py",
        "tests/analysis/strategy",
        "tests/analysis/traces",
        "-q",
        "-x",
        "-m",
        "not slow",
        "-p",
        "no:pytest-qt",
        "-p",
        "no:cacheprovider",
        "-W",
        "ignore::pytest.PytestConfigWarning",
        "-o",
        "qt_api=",
    ]
    code = BLOCK_QT + f"import sys, pytest\nsys.exit(pytest.main({arguments!r}))"
    done = run_python(code)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    assert re.search(r"\d+ passed", done.stdout)


def test_modules_are_named_for_what_they_are_about() -> None:
    named = {path for path in SOURCES if path.stem in EMPTY_NAMES or path.parent.name in EMPTY_NAMES}
    assert not named


def names_used(path: Path) -> Iterator[tuple[str, int]]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute):
            yield node.attr, node.lineno
        elif isinstance(node, ast.Name):
            yield node.id, node.lineno
        elif isinstance(node, ast.keyword) and node.arg:
            yield node.arg, node.value.lineno


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_is_used_that_was_ruled_out(path: Path) -> None:
    found = [
        f"{path.name}:{line} {name}: {NOT_USED[name]}" for name, line in names_used(path) if name in NOT_USED
    ]
    assert not found


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_failure_is_swallowed(path: Path) -> None:
    """``except Exception: pass`` and its kin lose files and results without a count."""
    silent = [
        node.lineno
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ExceptHandler)
        and (
            node.type is None
            or (isinstance(node.type, ast.Name) and node.type.id in {"Exception", "BaseException"})
        )
        and all(isinstance(line, ast.Pass | ast.Continue) for line in node.body)
    ]
    assert not silent


def test_nothing_in_an_input_can_run_code() -> None:
    """No pickle, no eval: a file that is opened, or a workspace from a colleague, is data only."""
    forbidden = {"eval", "pickle", "marshal", "allow_pickle"}
    found = [f"{path}:{line}" for path in SOURCES for name, line in names_used(path) if name in forbidden]
    # The built-in only: an attribute of this name is the event loop's.
    found += [
        f"{path}:{node.lineno}"
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Name) and node.id == "exec"
    ]
    assert not found


def test_no_place_of_one_machine_is_written_down() -> None:
    place = re.compile(r"(?<![\w.])/(?:home|root|work|Users)/\w|(?:https?://|file:///?)[\w.-]*(?:pypi|:\d+)")
    files = [
        *SOURCES,
        *TESTS,
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        ROOT / "pyproject.toml",
        *sorted((ROOT / ".ci").iterdir()),
    ]
    found = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in files
        if path.exists() and path != Path(__file__).resolve()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if place.search(line)
    ]
    assert not found


def test_dependencies_are_declared_and_explained() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    extras = [requirement for extra in project["optional-dependencies"].values() for requirement in extra]
    for requirement in [*project["dependencies"], *extras]:
        name = re.split(r"[<>=~!\[]", requirement)[0]
        if name == project["name"]:
            continue  # one extra that brings another
        assert importlib.metadata.version(name)
        assert f"`{name}`" in text, f"DEVELOPERS.md does not say what {name} is for"


@pytest.mark.parametrize("guide", ["README.md", "DEVELOPERS.md"])
def test_every_place_that_a_guide_names_is_there(guide: str) -> None:
    text = (ROOT / guide).read_text(encoding="utf-8")
    named = re.findall(r"(?<![\w/.])(?:analysis|app|tests|resources|sample_traces|\.ci)/[\w./*-]+", text)
    patterns = {name.rstrip(".").replace("NAME", "*") for name in named}
    assert patterns
    assert not [pattern for pattern in sorted(patterns) if not list(ROOT.glob(pattern))]
    modules = set(re.findall(r"python -m (tests\.[\w.]+)", text))
    places = {name: ROOT / name.replace(".", "/") for name in modules}
    assert not [
        name
        for name, place in places.items()
        if not place.with_suffix(".py").is_file() and not (place / "__main__.py").is_file()
    ]


def test_versions_agree() -> None:
    from analysis import __version__

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == __version__


def test_the_readme_has_both_commands_and_the_picture() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```\w*\n(.*?)```", text, flags=re.DOTALL)
    assert any("tautograph sample" in block and "venv" in block for block in blocks)
    assert any("-m pytest" in block and "venv" in block for block in blocks)
    for picture in re.findall(r"!\[[^]]*\]\(([^)]+)\)", text):
        assert (ROOT / picture).is_file(), f"the README shows {picture}, which is not there"
