"""What the header of a file claims to hold, against what a recording of its size can hold."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from analysis.errors import ReadError
from analysis.reading.source_file import SourceFile
from analysis.traces.arrow_arrays import ArrowArray, buffer_of, coded_text_array, valid_mask

#: A header may claim this many numbers for each byte of the file, in all channels together and beyond a first
#: allowance: more is no recording but a file made to exhaust the memory. Real recordings have below one; of
#: two channels one may be constant (own choice).
LARGEST_NUMBERS_PER_BYTE = 8
ALLOWED_NUMBERS = 4_000_000
_BYTES_OF_A_NUMBER = 8


def check_claim(file: SourceFile, numbers: int) -> None:
    """Refuse a header that claims more numbers than a recording of this size can hold. Raises ReadError."""
    if numbers > ALLOWED_NUMBERS + LARGEST_NUMBERS_PER_BYTE * file.size:
        raise ReadError(
            file.problem(
                None, f"a header that claims {numbers} samples in {file.size} bytes",
                "a recording", "the file is damaged or no recording; export it again",
            )
        )  # fmt: skip


def check_claimed_bytes(file: SourceFile, unpacked: int) -> None:
    """The same of compressed content that claims to become so many bytes. Raises ReadError."""
    check_claim(file, unpacked // _BYTES_OF_A_NUMBER)


def without_codes(file: SourceFile, values: ArrowArray) -> ArrowArray:
    """Texts for the codes into them, once it is known how long they become; other columns as they are.

    Raises ReadError.
    """
    if not pa.types.is_dictionary(values.type):
        return values
    kind = values.type.value_type
    if not pa.types.is_string(kind) or any(chunk.dictionary.null_count for chunk in values.chunks):
        return pa.chunked_array([chunk.dictionary_decode() for chunk in values.chunks], kind)
    total, texts = 0, []
    for chunk in values.chunks:
        known, used = chunk.dictionary, valid_mask(chunk.indices)
        codes = np.where(used, buffer_of(chunk.indices), -1)
        if len(known):
            ends = np.frombuffer(known.buffers()[1], np.int32, len(known) + 1, 4 * known.offset)
            total += int(np.diff(ends)[codes[used]].sum())
        check_claimed_bytes(file, total)
        # Decoding in Arrow loads all compute functions.
        texts.append(coded_text_array(codes, known.to_pylist()))
    return pa.chunked_array(texts, kind)
