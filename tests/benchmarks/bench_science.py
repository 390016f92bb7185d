"""The formulas: arrays against the bare numpy expression, the kettle against a solver, a file against parsing."""

import csv
import itertools
import math
import subprocess
import sys
from datetime import datetime, timedelta

import numpy as np
from scipy.integrate import solve_ivp

from service.science.bitterness import ibu_curve, tinseth_utilization_percent_curve
from service.science.kettle import Cooling, Hold, kettle_yields
from service.science.storage import alpha_left_percent_curve
from service.science.storage_index_curves import index_from_resin_loss_curve, resin_loss_percent_curve
from service.science.temperature_readings import read_temperature_history
from tests.benchmarks.measure import Result, best_seconds, compare

MANY = 1_000_000
RANDOM = np.random.default_rng(7)


def run() -> list[Result]:
    """Measure all of them."""
    return [*curves(), *kettle(), logger_file(), start()]


def curves() -> list[Result]:
    """A million values each, against the expression as one would type it."""
    gravity, minutes = RANDOM.uniform(1.03, 1.10, MANY), RANDOM.uniform(0, 90, MANY)
    alpha, mass, volume = RANDOM.uniform(3, 15, MANY), RANDOM.uniform(1, 900, MANY), np.full(MANY, 1000.0)
    days, index = RANDOM.uniform(0, 700, MANY), RANDOM.uniform(0.25, 1.0, MANY)
    points = RANDOM.uniform(0, 80, MANY)
    rate = -math.log(0.5) / 180 * 2 ** ((4 - 20) / 15) * 0.5
    return [
        compare(
            "a million Tinseth utilizations",
            lambda: tinseth_utilization_percent_curve(gravity_sg=gravity, minutes=minutes),
            lambda: 100 * 1.65 * 0.000125 ** (gravity - 1) * (1 - np.exp(-0.04 * minutes)) / 4.15,
            2,
        ),
        compare(
            "a million additions from minutes to IBU",
            lambda: ibu_curve(
                utilization_percent=tinseth_utilization_percent_curve(gravity_sg=gravity, minutes=minutes),
                alpha_percent=alpha,
                mass_g=mass,
                volume_l=volume,
            ),
            lambda: (
                1.65
                * 0.000125 ** (gravity - 1)
                * (1 - np.exp(-0.04 * minutes))
                / 4.15
                * (alpha / 100)
                * mass
                * 1000
                / volume
            ),
            2,
        ),
        compare(
            "a million storage values",
            lambda: alpha_left_percent_curve(
                alpha_percent=10, lost_6_months_percent=50, temperature_c=4, packing_factor=0.5, days=days
            ),
            lambda: 10 * np.exp(-rate * days),
            2,
        ),
        compare(
            "a million indices to losses",
            lambda: resin_loss_percent_curve(hop_storage_index=index),
            lambda: 110 * np.log10(index / 0.25),
            2,
        ),
        compare(
            "a million losses to indices",
            lambda: index_from_resin_loss_curve(resin_loss_percent=points),
            lambda: 0.25 * 10 ** (points / 110),
            2,
        ),
    ]


def kettle() -> list[Result]:
    """Ten additions over boil, hold and cooling, against scipy's solver at a like accuracy.

    The gate of 100 is against the solver's default method; LSODA, compiled and the quickest, is recorded too.
    """
    profile = [
        Hold(minutes=75, temperature_c=100),
        Hold(minutes=20, temperature_c=90),
        Cooling(minutes=45, from_c=90, surroundings_c=15, rate_per_minute=0.08),
    ]
    added = [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 75.0, 80.0]
    ours = kettle_yields(profile=profile, added_at_minutes=added)
    results = []
    for method, gate in (("RK45", 100), ("LSODA", 50)):
        solved = _solve_all(added, method)
        miss = max(abs(iso / ours[place].iso_fraction - 1) for place, iso in enumerate(solved))
        seconds = best_seconds(
            lambda: [kettle_yields(profile=profile, added_at_minutes=added) for _ in range(20)],
            lambda method=method: _solve_all(added, method),
        )
        our_s, solver_s = seconds[0] / 20, seconds[1]
        detail = f"{1e6 * our_s:.0f} µs under {1000 * solver_s:.1f} ms; they differ by {miss:.1e}"
        name = f"kettle of ten additions, solve_ivp {method}"
        results.append(Result(name, solver_s / our_s, gate, detail, "at least"))
    return results


def _solve_all(added: list[float], method: str) -> list[float]:
    def kelvin(at: float) -> float:
        if at < 75:
            return 373.15
        return 363.15 if at < 95 else 288.15 + 75 * math.exp(-0.08 * (at - 95))

    def rates(at: float, now: list[float]) -> list[float]:
        temperature = kelvin(at)
        formed = 7.9e11 * math.exp(-11858 / temperature) * now[0]
        return [-formed, formed - 4.1e12 * math.exp(-12994 / temperature) * now[1]]

    yields = []
    for start in added:
        state = [1.0, 0.0]
        corners = [start, *(edge for edge in (75.0, 95.0, 140.0) if edge > start)]
        for begin, end in itertools.pairwise(corners):
            state = solve_ivp(rates, (begin, end), state, method=method, rtol=1e-9, atol=1e-12).y[:, -1]
        yields.append(state[1])
    return yields


def logger_file() -> Result:
    """A hundred thousand readings, against splitting the rows and turning times and numbers into values."""
    began = datetime(2026, 9, 1)
    temperatures = 5 + 3 * np.sin(np.arange(100_000) / 300)
    rows = (
        f"{began + timedelta(minutes=10 * place)},{temperature:.2f}"
        for place, temperature in enumerate(temperatures)
    )
    text = "time,temperature (°C)\n" + "\n".join(rows) + "\n"

    def parse() -> tuple[list[datetime], list[float]]:
        table = list(csv.reader(text.splitlines()))[1:]
        return [datetime.fromisoformat(row[0]) for row in table], [float(row[1]) for row in table]

    return compare(
        "a logger's file of 100,000 readings", lambda: read_temperature_history(text=text), parse, 3
    )


def start() -> Result:
    """Importing every module of the science, against importing numpy; scipy must not come along."""
    script = (
        "import importlib, pkgutil, sys, service.science as room\n"
        "[importlib.import_module(f'service.science.{m.name}') for m in pkgutil.iter_modules(room.__path__)]\n"
        "sys.exit('scipy' in sys.modules)"
    )

    def run_python(code: str) -> None:
        subprocess.run([sys.executable, "-c", code], check=True)

    return compare(
        "import of the science without scipy",
        lambda: run_python(script),
        lambda: run_python("import numpy"),
        2,
        rounds=3,
    )
