"""What is installed from a wheel finds its weights: they lie inside it."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_a_wheel_holds_the_weights_and_an_installed_package_finds_them(tmp_path: Path) -> None:
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    made = subprocess.run(build, cwd=ROOT, capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stderr
    (wheel,) = tmp_path.glob("*.whl")
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as file:
        file.extractall(site)
    for name in ("ball.onnx", "ball.pt"):
        assert (site / "balltrack" / "models" / name).read_bytes() == (ROOT / "models" / name).read_bytes()
    assert (site / "balltrack" / "training" / "ball.yaml").is_file()
    asks = "from balltrack.detect.network import *; print(shipped_weights()); load_network(shipped_weights())"
    found = subprocess.run(
        [sys.executable, "-c", asks], cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(site)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert found.returncode == 0, found.stderr
    assert Path(found.stdout.strip()) == site / "balltrack" / "models" / "ball.onnx"
