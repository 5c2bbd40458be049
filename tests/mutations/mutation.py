"""One change of one line of the program, and the source with it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Mutation:
    """A change that falsifies the program."""

    file: str  #: Source, from the project's folder.
    #: Text that stands once in the file, and what is put in its place.
    before: str
    after: str
    tests: tuple[str, ...]  #: Files or folders of tests, the quickest first, that are to notice it.
    #: The file is part of a compiled kernel: the tests run with the kernels interpreted.
    interpreted: bool = False

    def __str__(self) -> str:
        before, after = (" ".join(text.split()) for text in (self.before, self.after))
        return f"{self.file}: {before}  ->  {after}"

    def apply(self, source: str) -> str:
        """The source with the change.

        Raises
        ------
        ValueError
            Where the text does not stand in the file exactly once: the mutation has to be kept up.
        """
        count = source.count(self.before)
        if count != 1:
            raise ValueError(f"{self.file} holds {count} times, instead of once:\n{self.before}")
        return source.replace(self.before, self.after)

    def source(self) -> str:
        """The changed source of the file as it stands now."""
        return self.apply((ROOT / self.file).read_text(encoding="utf-8"))


def changes(
    file: str, tests: tuple[str, ...], *pairs: tuple[str, str], interpreted: bool = False
) -> tuple[Mutation, ...]:
    """Mutations of one file that the same tests are to notice, from pairs of text before and after."""
    return tuple(Mutation(file, before, after, tests, interpreted) for before, after in pairs)
