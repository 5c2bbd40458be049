"""What every result is to be read with, said once for pages, windows and commands."""

from __future__ import annotations

JUDGEMENT = "Results support, and never replace, the judgement of a qualified engineer."
PREVAIL = "Local codes, the product's specification and licensed practice prevail."
NOT_MEASURED = "Estimated clamp force is not measured clamp force."
