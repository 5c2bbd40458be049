"""An analysis: the facts about a set of traces, and what is said of them when it is asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import pyarrow as pa

from analysis.account.audits import residual_sentences
from analysis.account.causes import causes_of
from analysis.account.findings import findings_of, verdict_sentence
from analysis.account.holding import holding_sentences
from analysis.account.joint import JointAccount, account_of_joint
from analysis.catalogue.sentences import Sentence
from analysis.facts import Facts
from analysis.result_values import result_values
from analysis.results import build_table
from analysis.verdict.finding import Cause, Finding, RuleCheck

if TYPE_CHECKING:
    from analysis.arrays import IntArray
    from analysis.joint.clamp_story import TraceEngineering


@dataclass(frozen=True, eq=False)
class Analysis(Facts):
    """Everything that was found about a set of traces; explanations are made when asked for."""

    def results(self) -> pa.Table:
        """The results table: one row a trace, a column for each figure of `analysis.catalogue.figures`."""
        return self._results

    @cached_property
    def _results(self) -> pa.Table:
        return build_table(result_values(self), settings=self.settings, sources=self.traces.sources)

    @cached_property
    def engineering(self) -> TraceEngineering:
        """What the stories of the joints' engineering are told from."""
        from analysis.joint.clamp_story import TraceEngineering

        return TraceEngineering(
            self.traces, self.curves, self.clamp, self.joints, self.settings.curve, self.operations
        )

    def checks(self, row: int) -> list[RuleCheck]:
        """Every rule of what was done to the joint on one trace: measured, limit, margin, place."""
        audited, pulsed = (bool(mask[row]) for mask in (self.operations.audited, self.operations.pulsed))
        checks = [one for one in self.rules.checks(row) if (one.rule.kind == "audit") == audited]
        # What only an impulse tool has is no lack of a joint that asks for none of it.
        return [
            one for one in checks if pulsed or not (one.rule.of_pulses and one.status == "no limit given")
        ]

    def findings(self, row: int) -> list[Finding]:
        """Broken limits and oddities of one trace, worst first."""
        return findings_of(self, self._in_range(row))

    def causes_of(self, row: int) -> list[Cause]:
        """Explanations of one trace, likeliest first, with evidence for and against."""
        return causes_of(self, self._in_range(row))

    def sentence(self, row: int) -> Sentence:
        """The verdict as a sentence for a colleague."""
        return verdict_sentence(self, self._in_range(row))

    def diagnosis(self, joint: str, rows: IntArray | None = None) -> JointAccount:
        """What the shift says about one joint: numbers, causes, what the odd ones share, steps over time.

        Parameters
        ----------
        rows : ndarray, optional
            Some of the joint's traces; all of them where not given.

        Raises
        ------
        CallError
            Where no trace belongs to this joint.
        """
        account = account_of_joint(self, joint, rows)
        held = holding_sentences(self, joint, rows)
        return replace(account, held=held, audited=residual_sentences(self, joint))

    def _in_range(self, row: int) -> int:
        if not -len(self) <= row < len(self):
            raise IndexError(row)
        return row % len(self)
