"""What the header of a file claims to hold, against what a recording of its size can hold."""

from __future__ import annotations

from analysis.errors import ReadError
from analysis.reading.source_file import SourceFile

#: A header may claim this many numbers for each byte of the file, beyond a first allowance: more is no
#: recording but a file made to exhaust the memory. Real recordings have below one; a constant torque
#: compresses to some tens (own choice).
LARGEST_NUMBERS_PER_BYTE = 256
ALLOWED_NUMBERS = 4_000_000
_BYTES_OF_A_NUMBER = 8


def check_claim(file: SourceFile, numbers: int) -> None:
    """Refuse a header that claims more numbers than a recording of this size can hold.

    Raises
    ------
    ReadError
    """
    if numbers > ALLOWED_NUMBERS + LARGEST_NUMBERS_PER_BYTE * file.size:
        raise ReadError(
            file.problem(
                None, f"a header that claims {numbers} samples in {file.size} bytes",
                "a recording", "the file is damaged or no recording; export it again",
            )
        )  # fmt: skip


def check_claimed_bytes(file: SourceFile, unpacked: int) -> None:
    """The same of compressed content that claims to become so many bytes.

    Raises
    ------
    ReadError
    """
    check_claim(file, unpacked // _BYTES_OF_A_NUMBER)
