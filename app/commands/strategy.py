"""``tautograph strategy``: a joint in, the clamp-force scatter of each way of tightening out; no display."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.listener import Listener
from analysis.whole_file import whole_file
from app.commands.libraries import check_drawing
from app.commands.output import refuse_overwriting
from app.commands.parsing import BatchArguments
from app.commands.progress import Console
from app.commands.report import report_time, template_of, torque_unit_of, write_pages
from app.commands.run import CommandError, check_output, read_joints, read_toml, run

if TYPE_CHECKING:
    from analysis.strategy.joint_scatter import JointScatter
    from analysis.strategy.settings import StrategySettings

STRATEGY_ENDINGS = (".pdf", ".html", ".json")


def strategy_command(arguments: BatchArguments) -> int:
    """Carry out ``tautograph strategy``; returns the exit code."""
    from analysis.strategy.advice import advise
    from analysis.strategy.joint_scatter import joint_scatter
    from analysis.strategy.words import choice

    ending = arguments.output.suffix.lower()
    check_output(arguments.output, STRATEGY_ENDINGS)
    if arguments.joint is None:
        raise CommandError("--joint NAME is missing: which joint of the joints file it is about")
    if ending == ".pdf":
        check_drawing()
    console = Console(quiet=arguments.quiet, verbose=arguments.verbose)
    joints, template = read_joints(arguments), template_of(arguments.template)
    settings, unit = strategy_settings(arguments.settings), torque_unit_of(arguments.torque_unit)
    named = [path for path in (arguments.joints, arguments.settings, arguments.template) if path is not None]
    refuse_overwriting([arguments.output], named)
    definition = joints[arguments.joint]
    scatter, source = joint_scatter(definition, settings), ""
    if arguments.inputs:
        scatter, source = _with_traces(arguments, scatter, console)
        console.say(source)
    with console.step("strategies"):
        advice = advise(scatter)
    console.say(choice(advice, definition))
    with whole_file(arguments.output) as unfinished:
        if ending == ".json":
            text = json.dumps(advice.as_dict(), indent=1, ensure_ascii=False, allow_nan=False)
            unfinished.write_text(text + "\n", encoding="utf-8")
        else:
            from analysis.catalogue.sentences import INTERNAL
            from analysis.catalogue.units import DisplayUnits
            from analysis.report.strategy_pages import strategy_report

            units = INTERNAL if unit is None else DisplayUnits(unit)
            report = strategy_report(
                advice, definition, source, now=report_time(), template=template, units=units
            )
            write_pages([report], unfinished, ending, Listener(console.progress))
    console.say(f"written: {arguments.output}")
    return 0


def strategy_settings(path: Path | None) -> StrategySettings:
    """Of a file; the defaults where there is none. Raises TautographError."""
    from analysis.strategy.settings import StrategySettings, with_values

    if path is None:
        return StrategySettings()
    return with_values(StrategySettings(), read_toml("--settings", path), str(path))


def _with_traces(
    arguments: BatchArguments, scatter: JointScatter, console: Console
) -> tuple[JointScatter, str]:
    """Scatter from the joint's own traces; settings of the strategies are none of the analysis."""
    from analysis.strategy.own_traces import scatter_of_traces

    stated = () if arguments.settings is None else tuple(read_toml("--settings", arguments.settings))
    arguments.settings = None
    found = run(arguments, STRATEGY_ENDINGS, console)
    refuse_overwriting([arguments.output], found.inputs)
    return scatter_of_traces(scatter, found.analysis.results(), stated)
