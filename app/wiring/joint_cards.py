"""What the card of each joint says: how many, what is wrong in one sentence, what to look at next."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.causes import CAUSE_NAMES, CAUSE_OF
from analysis.catalogue.verdicts import OK, UNEVALUATED, VERDICTS, WORST_FIRST
from app.display.messages import grouped, tr
from app.views.overview.card import JointCard

if TYPE_CHECKING:
    from analysis.capability.study import JointStudy
    from analysis.joint.definition import JointDefinition
    from app.session.session import Session

Rows = NDArray[np.int64]


def joint_cards(session: Session) -> tuple[JointCard, ...]:
    """A card for each joint that has traces among those shown; what needs attention first.

    Among those that want it class A comes first, then a joint that is wrong as a whole, then the most that
    are not ok, suspect, not evaluated.
    """
    from analysis.joint.joint_class import class_order

    def place(card: JointCard) -> tuple[object, ...]:
        worst = [-card.counts.get(word, 0) for word in WORST_FIRST[:-1]]
        risk = class_order(session.joints.get(card.joint))
        return (not card.wants_attention, risk, not card.as_a_whole, *worst, card.title)

    return tuple(sorted(_cards(session), key=place))


def _cards(session: Session) -> Iterator[JointCard]:
    column, shown = session.columns.get("joint"), np.flatnonzero(session.visible)
    if column is None:
        if len(shown):
            yield _card(session, "", shown)
        return
    rows_of: dict[str, list[int]] = {}
    for row, name in zip(shown.tolist(), column.values[shown].tolist(), strict=True):
        rows_of.setdefault(name, []).append(row)
    for name, rows in rows_of.items():
        yield _card(session, name, np.array(rows, np.int64))


def _card(session: Session, joint: str, rows: Rows) -> JointCard:
    analysis = session.analysis
    definition = (analysis.joints if analysis is not None else session.joints).get(joint)
    wrong, check = what_is_wrong(session, joint, rows)
    audits = analysis is not None and bool(analysis.operations.audited[rows].all())
    drawn = definition if analysis is not None and not audits else None  # curves lie from snug by then
    return JointCard(
        joint=joint,
        title=(definition.title if definition is not None and definition.title else joint)
        or tr("Traces that name no joint"),
        risk_class=_class_of(definition),
        rows=rows,
        counts=_counts(session, rows),
        wrong=wrong,
        check=check,
        holds=_holds(session, definition, rows),
        limits=_limits(session, definition, audits),
        torque_nm=None if drawn is None else drawn.torque_limits_nm,
        angle_deg=None if drawn is None else drawn.angle_limits_deg,
        as_a_whole=_unlike(session, rows),
    )


def _class_of(definition: JointDefinition | None) -> str:
    return "" if definition is None else str(definition.parts.get("risk_class", ""))


def _counts(session: Session, rows: Rows) -> dict[str, int]:
    if session.verdicts is None:
        return {}
    numbers = np.bincount(session.verdicts[rows], minlength=len(VERDICTS))
    return {word: int(numbers[VERDICTS.index(word)]) for word in WORST_FIRST}


def what_is_wrong(session: Session, joint: str, rows: Rows) -> tuple[str, str]:
    """One sentence, and what to look at next."""
    analysis = session.analysis
    if analysis is None:
        return tr("The verdicts are being worked out."), ""
    if not joint:
        return tr("Nothing to judge them by."), tr("Next: give them a joint, or define one from them.")
    if joint not in analysis.joints:
        return tr("Not in the joints file: nothing to judge it by."), tr("Next: define the joint.")
    verdict = analysis.verdict[rows]
    flagged = rows[(verdict != OK) & (verdict != UNEVALUATED)]
    if not len(flagged):
        return _not_evaluated(session, rows[verdict == UNEVALUATED])
    if _unlike(session, rows):
        factor = float(analysis.company.slope_factor[rows[0]])
        return (
            tr("All its traces rise {0} times as steeply as its definition predicts.", f"{factor:.2f}"),
            tr("Next: Back off some bolts by 20 deg; that tells friction from stiffness."),
        )
    likeliest = analysis.causes.likeliest[flagged]
    numbers = np.bincount(likeliest[likeliest >= 0], minlength=len(CAUSE_NAMES))
    if not numbers.any():
        return _deciding(session, flagged), ""
    first, second = np.argsort(-numbers, kind="stable")[:2].tolist()
    words = tr(
        "{0} in {1} of {2} flagged", _cause(first), grouped(int(numbers[first])), grouped(len(flagged))
    )
    if numbers[second]:
        words += tr(", {0} in {1}", _cause(second).lower(), grouped(int(numbers[second])))
    return f"{words}.", tr("Next: {0}", CAUSE_OF[CAUSE_NAMES[first]].next_check)


def _unlike(session: Session, rows: Rows) -> bool:
    """Whether the joint contradicts its definition."""
    return session.analysis is not None and bool(session.analysis.company.unlike[rows].any())


def _cause(code: int) -> str:
    words = CAUSE_OF[CAUSE_NAMES[code]].words.partition(" (")[0]
    return words[0].upper() + words[1:]


def _not_evaluated(session: Session, rows: Rows) -> tuple[str, str]:
    if not len(rows):
        return tr("Nothing stands out."), ""
    reasons = session.columns.get("not_evaluated_reason")
    if reasons is None:
        return "", ""
    texts, numbers = np.unique(reasons.values[rows].astype(str), return_counts=True)
    most = int(np.argmax(numbers))
    return tr("{0} times: {1}.", grouped(int(numbers[most])), texts[most].rstrip(".")), ""


def _deciding(session: Session, rows: Rows) -> str:
    """Where no cause is known: the figure that decides most often."""
    if session.margins is None:
        return ""
    titles, numbers = np.unique(session.margins.title[rows].astype(str), return_counts=True)
    most = int(np.argmax(numbers))
    return tr(
        "{0} decides {1} of {2} flagged.", titles[most], grouped(int(numbers[most])), grouped(len(rows))
    )


def _holds(session: Session, definition: JointDefinition | None, rows: Rows) -> str:
    if session.analysis is None or definition is None:
        return ""
    from analysis.account.holding import held

    found = held(session.analysis, definition, rows)
    if found is None:
        return ""
    wanted = session.units.given(definition.parts["wanted_clamp_force_kn"], "kN")
    return tr("{0} of {1} surely hold {2} kN", grouped(found.surely), grouped(found.n), wanted)


def _limits(session: Session, definition: JointDefinition | None, audits: bool) -> tuple[str, ...]:
    """The limits of the tightening; where there are audits only, theirs."""
    if definition is None:
        return ()
    if audits:
        from analysis.audit.settings import audit_settings

        both: tuple[tuple[tuple[float, float] | None, str], ...] = (
            (audit_settings(definition).limits_nm, "N·m"),
        )
    else:
        both = ((definition.torque_limits_nm, "N·m"), (definition.angle_limits_deg, "deg"))
    units = session.units
    return tuple(f"{units.window(*one, unit)} {units.symbol(unit)}" for one, unit in both if one is not None)


def capability_words(study: JointStudy) -> str:
    """The worst index that was worked out for a joint, and whether it is shown."""
    judged = [one for one in study.quantities.values() if one.shown is not None]
    if not judged:
        return ""
    index = {one: getattr(one, one.decided_by.lower()).value for one in judged}
    worst = min(judged, key=lambda one: index[one])
    return f"{worst.decided_by} {index[worst]:.2f}, {tr(study.shown or '')}"
