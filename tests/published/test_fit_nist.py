"""The least-squares core against the Statistical Reference Datasets of NIST for nonlinear regression.

Source: NIST/ITL StRD, public-domain data of the United States government; the files in ``nist_strd/`` are those that
the lmfit 1.3.4 source distribution carries, unchanged. Certified values are in the files themselves.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from balltrack.flight.solver import jacobian, minimise
from balltrack.units import Floats

FOLDER = Path(__file__).parent / "nist_strd"
Model = Callable[[Floats, Floats], Floats]


def thurber(b: Floats, x: Floats) -> Floats:
    return np.asarray(
        (b[..., 0] + b[..., 1] * x + b[..., 2] * x**2 + b[..., 3] * x**3)
        / (1 + b[..., 4] * x + b[..., 5] * x**2 + b[..., 6] * x**3)
    )


MODELS: dict[str, Model] = {  # as printed in each file; b is (batch, 1, p), x is (m,)
    "Misra1a": lambda b, x: np.asarray(b[..., 0] * (1 - np.exp(-b[..., 1] * x))),
    "Rat43": lambda b, x: np.asarray(b[..., 0] / (1 + np.exp(b[..., 1] - b[..., 2] * x)) ** (1 / b[..., 3])),
    "Thurber": thurber,
    "MGH09": lambda b, x: np.asarray(b[..., 0] * (x**2 + x * b[..., 1]) / (x**2 + x * b[..., 2] + b[..., 3])),
    "Eckerle4": lambda b, x: np.asarray(b[..., 0] / b[..., 1] * np.exp(-0.5 * ((x - b[..., 2]) / b[..., 1]) ** 2)),
    "BoxBOD": lambda b, x: np.asarray(b[..., 0] * (1 - np.exp(-b[..., 1] * x))),
}


@dataclass(frozen=True, slots=True, eq=False)
class Certified:
    starts: Floats  # (2, p)
    parameters: Floats  # (p,)
    sd: Floats  # (p,)
    residual_sd: float
    y: Floats
    x: Floats


def read(name: str) -> Certified:
    lines = (FOLDER / f"{name}.dat").read_text().splitlines()
    table = [[float(n) for n in line.split("=")[1].split()] for line in lines if re.match(r"\s*b\d+ *=", line)]
    spread = next(line for line in lines if line.startswith("Residual Standard Deviation"))
    first = next(i for i, line in enumerate(lines) if re.match(r"Data: *y", line)) + 1
    data = np.array([[float(n) for n in line.split()] for line in lines[first:] if line.strip()])
    columns = np.array(table).T
    return Certified(columns[:2], columns[2], columns[3], float(spread.split(":")[1]), data[:, 0], data[:, 1])


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("name", sorted(MODELS))
def test_core_reaches_the_certified_fit(name: str, start: int) -> None:
    data, model = read(name), MODELS[name]

    def residuals(b: Floats) -> Floats:
        with np.errstate(over="ignore", invalid="ignore"):  # steps from NIST's hard start may overflow: refused
            return model(b[:, None, :], data.x) - data.y

    scale = np.abs(data.starts[start])
    found = minimise(residuals, data.starts[start], scale, evaluations=2000)
    assert found.converged
    # Six digits: what differencing the model leaves, and far below any certified standard deviation.
    assert found.parameters == approx(data.parameters, rel=1e-6)
    slope = jacobian(residuals, found.parameters, np.abs(found.parameters))
    freedom = len(data.y) - len(data.parameters)
    residual_sd = np.sqrt(np.sum(found.residuals**2) / freedom)
    assert residual_sd == approx(data.residual_sd, rel=1e-6)
    sd = residual_sd * np.sqrt(np.diag(np.linalg.inv(slope.T @ slope)))
    assert sd == approx(data.sd, rel=1e-4)
