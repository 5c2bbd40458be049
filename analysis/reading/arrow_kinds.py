"""Names for Arrow objects in annotations: the published stubs describe them only in part."""

from __future__ import annotations

from typing import Any, TypeAlias

ArrowArray: TypeAlias = Any
"""A `pyarrow.Array` or `pyarrow.ChunkedArray`."""
