"""The joints file as a person keeps it: values are edited in place, comments and order stay."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis.errors import CallError, JointDefinitionError
from analysis.joint.definition import JointDefinition
from analysis.joint.joints_file import definitions, joints_from_text, joints_text
from analysis.joint.library import LIBRARY
from analysis.whole_file import write_whole

if TYPE_CHECKING:
    from tomlkit import TOMLDocument


class JointsDocument:
    """An editable joints file; every change is checked first and refused as a whole where it cannot be used.

    Examples
    --------
    >>> document = JointsDocument.from_text('[joints.hub]  # front axle\\ntarget_torque_nm = 65.0  # dry\\n')
    >>> document.set("hub", "torque_limits_nm", (58.0, 72.0))
    >>> print(document.text().strip())
    [joints.hub]  # front axle
    target_torque_nm = 65.0  # dry
    torque_limits_nm = [58.0, 72.0]
    """

    def __init__(self, document: TOMLDocument, path: Path | None) -> None:
        self._document = document
        self.path = path
        self._definitions = definitions(document.unwrap(), path=self._place)

    @classmethod
    def from_text(cls, text: str, path: Path | None = None) -> JointsDocument:
        """Raise JointDefinitionError where the text cannot be used."""
        import tomlkit  # late: the first screen needs no editing

        joints_from_text(text, path="" if path is None else str(path))
        return cls(tomlkit.parse(text), path)

    @classmethod
    def load(cls, path: str | Path) -> JointsDocument:
        """Open a file for editing. Raises JointDefinitionError."""
        return cls.from_text(joints_text(path), Path(path))

    @classmethod
    def new(cls) -> JointsDocument:
        """An empty document; joints are added with `add`."""
        import tomlkit

        document = tomlkit.document()
        document.add("joints", tomlkit.table(is_super_table=True))
        return cls(document, None)

    @property
    def _place(self) -> str:
        return "" if self.path is None else str(self.path)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the joints in the order of the file."""
        return tuple(self._definitions)

    @property
    def joints(self) -> dict[str, JointDefinition]:
        """The checked definitions."""
        return dict(self._definitions)

    def __getitem__(self, name: str) -> JointDefinition:
        return self._definitions[self._known(name)]

    def values(self, name: str) -> dict[str, Any]:
        """Keys and values of a joint as the file has them, the plant's own included: to copy it elsewhere."""
        return dict(self._document.unwrap()["joints"][self._known(name)])

    def copy(self, name: str, new_name: str) -> None:
        """Add a joint with the values of another one.

        Raises
        ------
        CallError
            Where there is no such joint, or the new name is taken.
        """
        self.add(new_name, self.values(name))

    def set(self, name: str, key: str, value: object) -> None:
        """Give one key of one joint a value; None takes the key out.

        Raises
        ------
        JointDefinitionError
            Where the value cannot be used; the document stays as it was.
        CallError
            Where there is no such joint.
        """
        self.update(name, {key: value})

    def update(self, name: str, values: Mapping[str, object]) -> None:
        """Give several keys of one joint their values at once; all are taken or none.

        A key with a dot, such as ``audit.limits_nm``, is one of a table within the joint.
        """
        self._known(name)

        def change(document: Any) -> None:
            for key, value in values.items():
                outer, _, inner = key.rpartition(".")
                table = document["joints"][name]
                if (
                    value is None
                    and LIBRARY in table
                    and inner not in table.get(outer, {} if outer else table)
                ):
                    message = "is given by the library: another value can stand above it, none cannot"
                    raise JointDefinitionError(message, path=self._place, joint=name, key=key)
                _give(_table_within(table, outer, value is not None), inner, value)
                if outer and not table.get(outer, True):
                    table.pop(outer)

        self._apply(change)

    def add(self, name: str, values: Mapping[str, object]) -> None:
        """Add a joint at the end; `values` needs ``target_torque_nm``.

        Raises
        ------
        CallError
            Where the name is taken.
        JointDefinitionError
        """
        if name in self._definitions:
            raise CallError(f"there is a joint {name!r} already")

        import tomlkit

        plain = {key: _plain(value) for key, value in values.items() if value is not None}
        if isinstance(self._document.get("joints"), tomlkit.items.InlineTable):
            self._apply(lambda document: document["joints"].update({name: _inline(plain)}))
            return
        table = tomlkit.table()
        for key, value in plain.items():
            table.add(key, value)
        header = f"[joints.{tomlkit.key(name).as_string()}]"
        before = self.text().rstrip()
        # Added as text at the end: the tables of a file need not stand together.
        self._take(
            f"{before}\n\n{header}\n{table.as_string()}" if before else f"{header}\n{table.as_string()}"
        )

    def replace_text(self, text: str) -> None:
        """Another text for all of it.

        Raises
        ------
        JointDefinitionError
            Where it cannot be used; the document stays as it was.
        """
        self._take(text)

    def remove(self, name: str) -> None:
        """Take a joint out with everything in it."""
        self._known(name)
        self._apply(lambda document: document["joints"].pop(name))

    def text(self) -> str:
        """The file as it would be written."""
        return self._document.as_string()

    def save(self, path: str | Path | None = None) -> Path:
        """Write back; the old file stays whole until the new one is complete.

        Raises
        ------
        CallError
            Where no path is known.
        OSError
        """
        target = self.path if path is None else Path(path)
        if target is None:
            raise CallError("no path to save the joints under")
        # Bytes, not text: line ends stay as the file had them.
        write_whole(target, self.text().encode("utf-8"))
        self.path = target
        return target

    def _known(self, name: str) -> str:
        if name not in self._definitions:
            raise CallError(f"no joint {name!r}; there are {', '.join(self._definitions) or 'none'}")
        return name

    def _apply(self, change: Callable[[Any], object]) -> None:
        import tomlkit

        trial = tomlkit.parse(self.text())
        change(trial)
        self._take(trial.as_string())

    def _take(self, text: str) -> None:
        """Check a changed text and make it the document; raise and stay as before where it cannot be used."""
        import tomlkit

        if "\r\n" in self.text():
            text = text.replace("\r\n", "\n").replace("\n", "\r\n")
        # Parsed from the text again: what counts is what the file will say.
        trial = tomlkit.parse(text)
        checked = joints_from_text(text, path=self._place) if trial.get("joints") else {}
        self._document, self._definitions = trial, checked


def _table_within(joint: Any, name: str, wanted: bool) -> Any:
    """A table of a joint by its name, made where it is wanted; the joint itself without a name."""
    import tomlkit

    if not name or (name not in joint and not wanted):
        return {} if name else joint
    if name not in joint:
        inline = isinstance(joint, tomlkit.items.InlineTable)
        joint[name] = tomlkit.inline_table() if inline else tomlkit.table()
    return joint[name]


def _give(table: Any, key: str, value: object) -> None:
    if value is None:
        table.pop(key, None)
    elif key not in table:
        table[key] = _plain(value)
    elif table[key] != _plain(value):
        _replace(table, key, _plain(value))


def _inline(values: Mapping[str, object]) -> Any:
    import tomlkit

    table = tomlkit.inline_table()
    table.update(values)
    return table


def _plain(value: object) -> object:
    """Tuples become lists, tables inline ones; numpy scalars become Python's."""
    if isinstance(value, Mapping):
        return _inline({key: _plain(item) for key, item in value.items()})
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    item = getattr(value, "item", None)
    return item() if callable(item) else value


def _replace(table: Any, key: str, value: object) -> None:
    """Put a value where the old one stood, with the old one's comment behind it."""
    import tomlkit

    old = table[key]
    if isinstance(value, list) and isinstance(old, list) and len(old) == len(value):
        # One by one, so that comments within the brackets stay.
        for index, item in enumerate(value):
            if old[index] != item:
                old[index] = item
        return
    new = tomlkit.item(value)
    trivia = getattr(old, "trivia", None)
    if trivia is not None:
        for name in ("comment_ws", "comment", "trail"):
            setattr(new.trivia, name, getattr(trivia, name))
    table[key] = new
