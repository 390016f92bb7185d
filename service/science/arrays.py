"""The types of arrays that the formulas take and return."""

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.int64]
