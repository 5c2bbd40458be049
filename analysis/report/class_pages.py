"""What the class of a joint asks, and where the joint stands; and which parts to contain."""

from __future__ import annotations

from analysis.capability.class_check import ClassItem
from analysis.joint.definition import JointDefinition
from analysis.joint.joint_class import CLASS_WORDS
from analysis.report.content import Block, Cell, Paragraph, ReportColumn, Section, Table

#: Parts that are listed; the rest is counted (own choice).
_MOST_PARTS = 60


def class_section(
    definition: JointDefinition, items: tuple[ClassItem, ...], contain: list[str], anchor: str
) -> Section | None:
    """The page; None where no class is given: then nothing is claimed."""
    risk_class = definition.parts.get("risk_class")
    if risk_class is None:
        return None
    blocks: list[Block] = [Paragraph(class_answer(items), "lead"), class_table(items)]
    if contain:
        listed = ", ".join(contain[:_MOST_PARTS])
        rest = f" and {len(contain) - _MOST_PARTS} more" if len(contain) > _MOST_PARTS else ""
        blocks.append(Paragraph(f"Stop and contain: since the last sound one: {listed}{rest}.", "strong"))
    title = f"What class {risk_class} asks, and where this joint stands"
    note = f"Class {risk_class}: {CLASS_WORDS[risk_class]}. Whether the class is right, the plant decides."
    return Section(title, f"{anchor}-class", (*blocks, Paragraph(note, "small")), new_page=False)


def class_answer(items: tuple[ClassItem, ...]) -> str:
    """How many lines stand how."""
    counts = {standing: sum(one.standing == standing for one in items) for standing in _STANDINGS}
    return "; ".join(f"{count} {standing}" for standing, count in counts.items() if count) + "."


_STANDINGS = ("not met", "cannot be told", "met")


def class_table(items: tuple[ClassItem, ...]) -> Table:
    """Every line once, what is not met first."""
    columns = (
        ReportColumn("Asked", weight=2.4), ReportColumn("Stands", weight=1.0),
        ReportColumn("Reason", weight=3.0),
        ReportColumn("Source", weight=1.4),
    )  # fmt: skip
    rows = tuple(
        (
            Cell(one.asks, one.item), Cell(one.standing, one.standing), Cell(one.why),
            Cell(one.note or "confirmed by the plant"),
        )
        for one in sorted(items, key=lambda one: _STANDINGS.index(one.standing))
    )  # fmt: skip
    return Table("Class", columns, rows, "Line by line")
