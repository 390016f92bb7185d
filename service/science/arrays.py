"""numpy, loaded by the first sum over many values.

numpy is an eighth of what the service would have to load before it can answer, and most answers need none of it. So the
house says ``from service.science.arrays import np`` and writes ``np.exp`` as anyone does; the first such word loads it.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Places = NDArray[np.int64]
else:

    class Array:
        """Says in a hint that an array is wanted, while numpy is not loaded."""

    Numbers = Flags = Places = Array

    class _Numpy:
        """Stands in numpy's place and fetches each of its names once."""

        def __getattr__(self, name: str) -> Any:
            import numpy  # noqa: PLC0415 -- slow import

            found = getattr(numpy, name)
            setattr(self, name, found)
            return found

    np = _Numpy()

__all__ = ["Flags", "Numbers", "Places", "np"]
