"""A pinned reference set: what was good once says what is usual from then on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analysis.arrays import FloatArray
from analysis.checked_text import KEPT_WORK_BYTES, UnusableTextError, json_data, read_text
from analysis.errors import CallError
from analysis.shift.curve_band import ENVELOPE_PERCENTILES
from analysis.shift.population import Usual, usual_of
from analysis.whole_file import write_whole

_FORM = "tautograph reference 1"


@dataclass(frozen=True, eq=False)
class ReferenceSet:
    """What a pinned selection of one joint's traces looks like."""

    joint: str
    name: str
    pinned_on: str  #: Date, ISO 8601.
    trace_ids: tuple[str, ...]
    feature_names: tuple[str, ...]  #: Length k.
    #: Shape (k,). Robust centre and standard deviation on the features' compared scales.
    centre: FloatArray
    spread: FloatArray
    #: Shape (k,). How far the features scatter to either side, over `spread`; 1 unless skewed.
    below: FloatArray
    above: FloatArray
    angle_deg: FloatArray  #: Shape (points,). Degrees before the final point, from negative to 0.
    #: Shape (points,). Envelope by `ENVELOPE_PERCENTILES`.
    low_nm: FloatArray
    median_nm: FloatArray
    high_nm: FloatArray

    def __eq__(self, other: object) -> bool:
        """Same name, date, traces and figures; absent figures are equal to each other."""
        if not isinstance(other, ReferenceSet):
            return NotImplemented
        return self._named() == other._named() and all(
            np.array_equal(getattr(self, name), getattr(other, name), equal_nan=True) for name in _ARRAYS
        )

    def __hash__(self) -> int:
        return hash(self._named())

    def _named(self) -> tuple[object, ...]:
        return self.joint, self.name, self.pinned_on, self.trace_ids, self.feature_names

    @property
    def n(self) -> int:
        """Number of traces."""
        return len(self.trace_ids)

    def words(self) -> str:
        """What stands beside every judgement by it: name, number, date."""
        return f"the reference {self.name!r} ({self.n} traces, pinned on {self.pinned_on})"

    def usual(self) -> Usual:
        """For `analysis.shift.outliers.find_outliers`."""
        return Usual(self.centre, self.spread, np.vstack([self.below, self.above]), self.n, self.words())

    def outside(self, rises: FloatArray, widened: float = 1.0) -> FloatArray:
        """Share of the points at which each curve, on the same grid, lies outside the envelope; shape (n,).

        Parameters
        ----------
        rises : ndarray, shape (n, points)
        widened : float
            How many times further from the median than the envelope a point must lie.
        """
        low = self.median_nm + widened * (self.low_nm - self.median_nm)
        high = self.median_nm + widened * (self.high_nm - self.median_nm)
        return np.asarray(((rises < low) | (rises > high)).mean(axis=1))

    def as_dict(self) -> dict[str, Any]:
        """Plain data for a file."""
        values = {name: getattr(self, name) for name in _ARRAYS}
        return {
            "form": _FORM,
            "joint": self.joint,
            "name": self.name,
            "pinned_on": self.pinned_on,
            "trace_ids": list(self.trace_ids),
            "feature_names": list(self.feature_names),
            **{name: [None if np.isnan(v) else float(v) for v in array] for name, array in values.items()},
        }

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> ReferenceSet:
        """The set that `as_dict` gave.

        Raises
        ------
        CallError
            Where the data is not such a set.
        """
        if data.get("form") != _FORM:
            raise CallError(f"no reference set: expected form {_FORM!r}, found {data.get('form')!r}")
        try:
            even = {side: [1.0] * len(data["centre"]) for side in ("below", "above")}
            arrays = {
                name: np.array([np.nan if v is None else float(v) for v in (even | data)[name]])
                for name in _ARRAYS
            }
            found = cls(
                joint=str(data["joint"]),
                name=str(data["name"]),
                pinned_on=str(data["pinned_on"]),
                trace_ids=tuple(str(one) for one in data["trace_ids"]),
                feature_names=tuple(str(one) for one in data["feature_names"]),
                **arrays,
            )
        except (KeyError, TypeError, ValueError, OverflowError) as error:
            raise CallError(f"no reference set: {error}") from error
        found._check_lengths()
        return found

    def _check_lengths(self) -> None:
        """Arrays of one length for the features, and of one for the envelope; absent or finite."""
        for names, length in ((_BY_FEATURE, len(self.feature_names)), (_BY_POINT, len(self.angle_deg))):
            for name in names:
                values = getattr(self, name)
                if values.shape != (length,) or np.isinf(values).any():
                    raise CallError(f"no reference set: {name} holds {len(values)} values; expected {length}")
        if not (np.isfinite(self.angle_deg).all() and len(self.angle_deg) > 1 and self.angle_deg[0] < 0.0):
            raise CallError("no reference set: angle_deg does not run up to the final point")


_BY_FEATURE = ("centre", "spread", "below", "above")
_BY_POINT = ("angle_deg", "low_nm", "median_nm", "high_nm")
_ARRAYS = (*_BY_FEATURE, *_BY_POINT)


def build_reference(
    *,
    joint: str,
    name: str,
    pinned_on: str,
    trace_ids: Sequence[str],
    feature_names: Sequence[str],
    features: FloatArray,
    rises: FloatArray,
    span_deg: float,
    smallest: int,
) -> ReferenceSet:
    """A reference set from the features (compared scales) and resampled rises of the chosen traces.

    Raises
    ------
    CallError
        Where there are fewer than `smallest` traces: a reference of a handful would judge by chance.
    """
    if len(trace_ids) < smallest:
        words = "1 trace is" if len(trace_ids) == 1 else f"{len(trace_ids)} traces are"
        raise CallError(f"{words} too few for a reference set; it needs {smallest} at least")
    usual = usual_of(features, name)
    whole = rises[~np.isnan(rises).any(axis=1)]
    points = rises.shape[1]
    envelope = (
        np.percentile(whole, ENVELOPE_PERCENTILES, axis=0) if len(whole) else np.full((3, points), np.nan)
    )
    return ReferenceSet(
        joint=joint,
        name=name,
        pinned_on=pinned_on,
        trace_ids=tuple(trace_ids),
        feature_names=tuple(feature_names),
        centre=usual.centre,
        spread=usual.spread,
        below=usual.sides[0],
        above=usual.sides[1],
        angle_deg=np.linspace(-span_deg, 0.0, points),
        low_nm=envelope[0],
        median_nm=envelope[1],
        high_nm=envelope[2],
    )


def save_references(references: Sequence[ReferenceSet], path: str | Path) -> None:
    """Write reference sets as JSON, to be kept beside the joints file."""
    data = [reference.as_dict() for reference in references]
    write_whole(Path(path), (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode("utf-8"))


def load_references(path: str | Path) -> dict[str, ReferenceSet]:
    """Reference sets by joint.

    Raises
    ------
    CallError
        Where the file does not hold reference sets.
    OSError
        Where it cannot be read.
    """
    try:
        data = json_data(read_text(path, KEPT_WORK_BYTES))
    except UnusableTextError as error:
        raise CallError(f"{path}: no reference sets: it {error}") from error
    if not isinstance(data, list) or not all(isinstance(one, dict) for one in data):
        raise CallError(f"{path}: no reference sets: expected a list of tables")
    found = [ReferenceSet.from_dict(one) for one in data]
    return {reference.joint: reference for reference in found}
