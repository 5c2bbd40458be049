"""Prints the oldest version of each dependency that pyproject.toml allows, as constraints for pip."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path


def floors() -> list[str]:
    """Such as ``numpy==2.0.*``; dependencies without a floor are left out."""
    text = (Path(__file__).resolve().parents[1] / "pyproject.toml").read_text(encoding="utf-8")
    project = tomllib.loads(text)["project"]
    wanted = [
        *project["dependencies"],
        *(r for extra in project["optional-dependencies"].values() for r in extra),
    ]
    found = [re.match(r"([\w.-]+)>=([\d.]+)", requirement) for requirement in wanted]
    return sorted({f"{match[1]}=={match[2]}.*" for match in found if match})


if __name__ == "__main__":
    print("\n".join(floors()))
