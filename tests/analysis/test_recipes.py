"""The recipes of DEVELOPERS.md are tried: each diff is applied to the modules as they are imported."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.helpers.commands import run_python
from tests.mutations.mutation import Mutation

ROOT = Path(__file__).resolve().parents[2]
RECIPES = ("figure", "rule", "cause")

CHECKS = {
    "figure": """
from analysis.report import build_reports, to_html
table = analysis.results()
share = table["snug_share"].to_pylist()
snug, final = (table[name].to_pylist() for name in ("snug_torque_nm", "final_torque_nm"))
assert [s for s in share if s is not None]
assert all(s is None or abs(s - a / b) < 1e-12 for s, a, b in zip(share, snug, final))
assert table.schema.field("snug_share").metadata[b"title"] == b"Snug over final"
assert "Snug over final" in to_html(build_reports(analysis))
""",
    "rule": """
from dataclasses import replace
tight = {name: replace(one, snug_limits_nm=(0.1, 0.2)) for name, one in joints.items()}
judged = analyse(traces, tight)
row = judged.verdict.tolist().index(2)
check = next(one for one in judged.checks(row) if one.rule.name == "snug")
assert (check.low, check.high) == (0.1, 0.2)
found = [row for row in range(len(judged)) if any(f.name == "snug-high" for f in judged.findings(row))]
assert len(found) > len(judged) / 2
sentence = next(f.sentence for f in judged.findings(found[0]) if f.name == "snug-high")
assert "snug torque" in sentence and "above the upper limit of 0.2 N" in sentence
text = "[joints.a]\\ntarget_torque_nm = 9.0\\nsnug_limits_nm = [1.0, 2.0]"
assert joints_from_text(text)["a"].snug_limits_nm == (1.0, 2.0)
""",
    "cause": """
from analysis.catalogue.causes import CAUSE_NAMES
from analysis.catalogue.findings import in_words
assert CAUSE_NAMES[0] == "dirt-between" and in_words("dirt-between") == "dirt between the parts"
strength = analysis.causes.strength[:, 0]
assert strength.max() > 0.5 and strength.shape == (len(analysis),)
assert set(analysis.results()["cause"].to_pylist()) <= {None, *CAUSE_NAMES}
""",
}
SCRIPT = """
import sys
from tests.mutations.changed_import import ChangedModule
from tests.analysis.test_recipes import changed_sources
for file, source in changed_sources({recipe!r}).items():
    sys.meta_path.insert(0, ChangedModule(file, source))
from analysis.joint import joints_from_text
from analysis.pipeline import analyse
from tests.world import evaluation_joints_toml, make_shift
traces, _ = make_shift(4, good=25, each_fault=1)
joints = joints_from_text(evaluation_joints_toml())
analysis = analyse(traces, joints)
{check}
"""


def changed_sources(recipe: str) -> dict[str, str]:
    """Sources of the files that a recipe changes, by path."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    block = re.search(rf"\*\*Add a {recipe}\.\*\*.*?```diff\n(.*?)```", text, re.DOTALL)
    assert block is not None
    sources: dict[str, str] = {}
    for part in re.split(r"^--- ", block[1], flags=re.MULTILINE)[1:]:
        file, *lines = part.rstrip("\n").split("\n")
        before = "\n".join(line[1:] for line in lines if not line.startswith("+"))
        after = "\n".join(line[1:] for line in lines)
        source = sources.get(file) or (ROOT / file).read_text(encoding="utf-8")
        sources[file] = Mutation(file, before, after, ()).apply(source)
    return sources


@pytest.mark.parametrize("recipe", RECIPES)
def test_the_diff_of_a_recipe_is_all_that_it_takes(recipe: str) -> None:
    done = run_python(SCRIPT.format(recipe=recipe, check=CHECKS[recipe]))
    assert done.returncode == 0, done.stderr
