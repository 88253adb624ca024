"""The arrays that walls and tests are compared in."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Bools = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int32]
"""One entry per wall or test: an index into distinct values, walls or tests."""
