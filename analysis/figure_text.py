"""How a figure is written: no more digits than its uncertainty allows, limits as they were given.

Units are the caller's.

The one place for windows and reports. The rule, in the manner of the GUM (JCGM 100:2008, 7.2.6):

* a standard uncertainty is rounded to two significant digits, and the value to the same decimal place, but
  never coarser than whole units, in which limits and differences are read (own choice);
* a recorded value without an uncertainty is written to the coarsest decimal place whose unit is less than
  twice the step of the recording, so that rounding moves it by less than one step;
* where neither is known, four significant digits (own choice: the exactness of good torque transducers);
* a limit is written as it was given, without padding zeros.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

#: Digits of a figure of which neither uncertainty nor step is known.
SIGNIFICANT_DIGITS = 4
#: Digits that a given number may have to be written as it is, and those that it is cut to where it has more:
#: such a number was computed, not written by a person (own choice).
_MOST_GIVEN, _CUT_TO = 8, 6
#: An uncertainty below this is a zero that arithmetic left over, in every unit that is shown.
_NO_UNCERTAINTY = 1e-12
#: How nearly a shorter number must agree to be the number that was given; roundings of conversions are below.
_SAME = 1e-12
#: Digits of a step's logarithm that count: differences of recorded values carry rounding.
_STEP_SLACK = 1e-4
_MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True)
class Uncertainty:
    """How well a figure is known, in the figure's unit."""

    sigma: float | None = None  #: Standard uncertainty; None where none is known.
    #: Step of the recording that the figure was read from; None where it was not read from samples.
    step: float | None = None
    width: float | None = (
        None  #: Half the width between the bounds of an estimate; it only says how many digits count.
    )

    def times(self, factor: float) -> Uncertainty:
        """In another unit."""
        parts = (self.sigma, self.step, self.width)
        return Uncertainty(*(None if part is None else abs(factor) * part for part in parts))

    @property
    def spread(self) -> float | None:
        """The uncertainty where it is one: finite and above zero."""
        sigma = self.sigma
        return sigma if sigma is not None and _NO_UNCERTAINTY < sigma < math.inf else None


UNKNOWN = Uncertainty()
ABSENT = "–"


def with_uncertainty(
    value: float, uncertainty: Uncertainty, *, signed: bool = False, most: int | None = None
) -> tuple[str, str]:
    """A value and its standard uncertainty as texts; the second is empty where none is known.

    An absent value is an en dash. Where more than `most` significant digits would be left, the value is cut
    to them and stands alone.

    Examples
    --------
    >>> [with_uncertainty(x, Uncertainty(u)) for x, u in ((130.04, 1.52), (4.7104, 0.0996), (1405.0, 123.0))]
    [('130.0', '1.5'), ('4.71', '0.10'), ('1405', '123')]
    >>> with_uncertainty(4.7104, Uncertainty(step=0.01)), with_uncertainty(-0.04, Uncertainty(step=0.1))
    (('4.71', ''), ('0.0', ''))
    >>> with_uncertainty(4.7104, UNKNOWN)
    ('4.710', '')
    """
    if not math.isfinite(value):
        return ABSENT, ""
    place, spread = last_place(uncertainty), uncertainty.spread
    if place is None:
        return figure(value, signed=signed), ""
    if most is not None and value != 0.0 and place < (first := _first_place(value, most)) - most + 1:
        return at_place(value, first - most + 1, signed=signed), ""
    return at_place(value, place, signed=signed), "" if spread is None else at_place(spread, place)


def last_place(uncertainty: Uncertainty) -> int | None:
    """Power of ten of the last digit that an uncertainty leaves a meaning; None where nothing is known.

    Examples
    --------
    >>> last_place(Uncertainty(1.52)), last_place(Uncertainty(step=0.01)), last_place(UNKNOWN)
    (-1, -2, None)
    """
    for known in (uncertainty.spread, Uncertainty(uncertainty.width).spread):
        if known is not None:
            return min(_first_place(known, 2) - 1, 0)
    if uncertainty.step is not None and _NO_UNCERTAINTY < uncertainty.step < math.inf:
        return math.ceil(math.log10(2.0 * uncertainty.step) - _STEP_SLACK) - 1
    return None


def measured_text(value: float, uncertainty: Uncertainty, unit: str = "", *, signed: bool = False) -> str:
    """Value, uncertainty and unit in one line.

    Examples
    --------
    >>> measured_text(130.04, Uncertainty(1.52), "deg"), measured_text(4.7104, Uncertainty(step=0.01), "N·m")
    ('130.0 ± 1.5 deg', '4.71 N·m')
    """
    text, spread = with_uncertainty(value, uncertainty, signed=signed)
    return f"{text}{f' ± {spread}' if spread else ''} {unit}".rstrip()


def difference_text(
    value: float, limit: float, known: Uncertainty, factor: float = 1.0, *, signed: bool = False
) -> str:
    """How far a figure lies from a limit that was given: the difference of the two as they are written.

    Where they are written alike, zero to the place of the figure; a signed one keeps its side: "−0.0" is
    outside by less than is shown.

    Examples
    --------
    >>> difference_text(330.273, 58.0, Uncertainty(99.8)), difference_text(72.34, 72.25, Uncertainty(3.3))
    ('272', '0.05')
    >>> difference_text(71.97, 72.0, Uncertainty(3.3), signed=True)
    '−0.0'
    """
    if not math.isfinite(value):
        return ABSENT
    written = with_uncertainty(value * factor, known.times(factor))[0], given_text(limit, factor)
    shown, given = (Decimal(words.replace(_MINUS, "-")) for words in written)
    apart = shown - given
    decimals = max(0, *(-int(one.as_tuple().exponent) for one in (shown, given)))
    if not apart:
        return at_place(math.copysign(0.0, value - limit), -decimals, signed=signed)
    return at_place(float(apart), -decimals, signed=signed)


def bounded_texts(low: float, high: float, *values: float) -> tuple[str, ...]:
    """Two bounds, and values that lie between them, to the place that half the width between them allows.

    Examples
    --------
    >>> bounded_texts(23.4567, 37.1234, 29.61), bounded_texts(5.0, 5.0)
    (('23.5', '37.1', '29.6'), ('5.000', '5.000'))
    """
    width = Uncertainty(width=abs(high - low) / 2.0)
    return tuple(with_uncertainty(value, width)[0] for value in (low, high, *values))


def at_place(value: float, place: int, *, signed: bool = False) -> str:
    """A number rounded to a power of ten, with a true minus sign.

    A signed number keeps the sign of what it was before rounding: "−0.0" is outside by less than is shown.

    Examples
    --------
    >>> at_place(1234.56, -1), at_place(1234.56, 2), at_place(-0.04, -1), at_place(-0.04, -1, signed=True)
    ('1234.6', '1200', '0.0', '−0.0')
    """
    rounded = round(value, -place) if place > 0 else value
    text = f"{rounded:{'+' if signed else ''}.{max(0, -place)}f}"
    if text.startswith("-") and not signed and float(text) == 0.0:
        text = text[1:]
    return text.replace("-", _MINUS)


def number_text(value: float, decimals: int) -> str:
    """A number with so many decimals, with a true minus sign, and none before zero.

    Examples
    --------
    >>> number_text(-0.04, 1), number_text(-12.5, 1)
    ('0.0', '−12.5')
    """
    return at_place(value, -decimals)


def figure(value: float, *, digits: int = SIGNIFICANT_DIGITS, signed: bool = False) -> str:
    """A number with a fixed count of significant digits, never in powers of ten for what a line measures.

    Examples
    --------
    >>> figure(0.0), figure(1234.56), figure(65.0), figure(-0.01234), figure(3.0, signed=True)
    ('0', '1235', '65.00', '−0.01234', '+3.000')
    """
    if value == 0:
        return "0"
    magnitude = math.floor(math.log10(abs(value)))
    if magnitude >= 9 or magnitude < -6:
        return f"{value:.{digits - 1}e}"
    decimals = max(0, digits - 1 - magnitude)
    text = f"{value:{'+' if signed else ''}.{decimals}f}"
    return text.replace("-", _MINUS)


def given_text(value: float, factor: float = 1.0, *, least: int = SIGNIFICANT_DIGITS) -> str:
    """A limit as it was given, without padding zeros; in another unit with a digit more.

    Parameters
    ----------
    value : float
        In the unit of the joints file.
    factor : float
        From there to the unit that is shown.
    least : int
        Significant digits in another unit, at the least.

    Examples
    --------
    >>> given_text(9.7), given_text(58.0), given_text(-0.1), given_text(58.0, 0.7375621492772654)
    ('9.7', '58', '−0.1', '42.78')
    >>> given_text(43.0 * 1.3558179483314004, 1 / 1.3558179483314004), given_text(43.0 * 1.3558179483314004)
    ('43', '58.3002')
    """
    shown = value * factor
    if shown == 0.0:
        return "0"
    digits = _digits_of(shown)
    if digits is None:
        given = _digits_of(value) or _CUT_TO
        digits = _CUT_TO if factor == 1.0 else min(max(least, given + 1), _CUT_TO)
    return at_place(shown, min(0, _first_place(shown, digits) - digits + 1))


def _digits_of(value: float) -> int | None:
    """Significant digits of a number that a person wrote; None where it has more than a person writes."""
    for digits in range(1, _MOST_GIVEN + 1):
        if math.isclose(float(f"{value:.{digits - 1}e}"), value, rel_tol=_SAME):
            return digits
    return None


def _first_place(value: float, digits: int) -> int:
    """Power of ten of the first digit once the number is rounded to so many digits."""
    return int(f"{abs(value):.{digits - 1}e}".partition("e")[2])


def titled(title: str, unit: str) -> str:
    """What a column or an axis shows, with its unit; the one way for windows and pages.

    Examples
    --------
    >>> titled("Final torque", "N·m"), titled("Traces", "")
    ('Final torque (N·m)', 'Traces')
    """
    return f"{title} ({unit})" if unit else title


def capitalised(sentence: str) -> str:
    """With a capital at its beginning, the rest as it is.

    Examples
    --------
    >>> capitalised("slope of hub rose"), capitalised("")
    ('Slope of hub rose', '')
    """
    return sentence[:1].upper() + sentence[1:]


def plural(count: int, one: str, many: str = "") -> str:
    """A counted noun.

    Examples
    --------
    >>> plural(1, "trace"), plural(2500, "trace"), plural(2, "box", "boxes")
    ('1 trace', '2500 traces', '2 boxes')
    """
    return f"{count_text(count)} {one if count == 1 else many or one + 's'}"


def count_text(count: int) -> str:
    """A whole number with thin groups of three."""
    return f"{count:,}".replace(",", "\u202f") if count >= 10_000 else str(count)


def p_words(probability: float) -> str:
    """A probability in a sentence.

    Examples
    --------
    >>> p_words(0.0042), p_words(3e-9)
    ('p = 0.0042', 'p < 0.0001')
    """
    words = chance_words(probability)
    return f"p {words}" if words.startswith("<") else f"p = {words}"


def chance_words(probability: float) -> str:
    """A probability alone, in a table.

    Examples
    --------
    >>> chance_words(0.21), chance_words(0.0042), chance_words(3e-9)
    ('0.21', '0.0042', '< 0.0001')
    """
    return "< 0.0001" if probability < 1e-4 else f"{probability:.2g}"
