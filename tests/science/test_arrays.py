"""numpy under its usual name, and only when it is asked for."""

import subprocess
import sys

import numpy

from service.science.arrays import np
from tests.conftest import ROOT


def test_every_word_is_numpys_own() -> None:
    assert np.exp is numpy.exp
    assert np.float64 is numpy.float64
    assert np.polynomial.legendre is numpy.polynomial.legendre


def test_building_the_house_loads_neither_numpy_nor_scipy_nor_reportlab() -> None:
    code = """
import sys
from service.app import create_app
from service.settings import Settings
create_app(Settings())
print(*sorted({"numpy", "scipy", "reportlab"} & set(sys.modules)))
"""
    ran = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)

    assert ran.stdout.split() == []


def test_the_first_words_may_be_said_by_many_threads_at_once() -> None:
    code = """
from concurrent.futures import ThreadPoolExecutor
from service.science.arrays import np
with ThreadPoolExecutor(8) as pool:
    print(*{float(value) for value in pool.map(lambda _: np.exp(np.zeros(1))[0], range(8))})
"""
    ran = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)

    assert ran.stdout.split() == ["1.0"]
