"""Training by ultralytics and export to ONNX, off the network."""

import os
import pickle
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from balltrack.errors import DetectorError

ARCHITECTURE = Path(__file__).with_name("ball.yaml")
NEEDS = "training needs the training set: pip install 'balltrack[train]'"
OPSET = 17


@dataclass(frozen=True, slots=True)
class Recipe:
    """How long and how to train."""

    epochs: int
    batch: int
    side_px: int
    learning_rate: float
    workers: int
    device: str  # cpu, or the number of a GPU
    seed: int
    hours: float | None = None  # stop after so long, whatever the epochs
    warmup_epochs: float = 2.0


def check_ready(device: str) -> None:
    """Refuse, before any work is done, what training could not be done with.

    Raises
    ------
    DetectorError
        If the training set is not installed, or there is no such device.
    """
    _ultralytics()
    from ultralytics.utils.torch_utils import select_device

    try:
        select_device(device, verbose=False)
    except (ValueError, RuntimeError, AssertionError):
        raise DetectorError(f"there is no device {device} to train on here; take --device cpu") from None


def train(index: Path, out: Path, recipe: Recipe, start: Path | None = None) -> Path:
    """Train on the examples of ``index``; goes on where an interrupted run in ``out`` left off.

    Parameters
    ----------
    index : Path
        The dataset's data.yaml.
    out : Path
        Folder for weights, curves (results.csv) and settings (args.yaml).
    recipe : Recipe
    start : Path, optional
        Weights (.pt) to start from; else from nothing.

    Returns
    -------
    Path
        The best weights, a .pt file.

    Raises
    ------
    DetectorError
        If the training set is not installed.
    """
    yolo, trainer = _ultralytics()
    last, best = out / "weights" / "last.pt", out / "weights" / "best.pt"
    done = _epochs_done(last) if last.is_file() else None
    if done is not None:
        if done >= 0:
            yolo(str(last)).train(resume=True, trainer=trainer, device=recipe.device, workers=recipe.workers)
        return best
    model = yolo(str(start or ARCHITECTURE), task="detect")
    model.train(
        trainer=trainer, data=str(index), project=str(out.parent.resolve()), name=out.name, exist_ok=True,
        epochs=recipe.epochs, time=recipe.hours, batch=recipe.batch, imgsz=recipe.side_px, device=recipe.device,
        workers=recipe.workers, seed=recipe.seed, optimizer="AdamW", lr0=recipe.learning_rate, lrf=0.02, cos_lr=True,
        warmup_epochs=recipe.warmup_epochs, weight_decay=0.0005, patience=1000, close_mosaic=0, amp=False, plots=False,
        deterministic=False, pretrained=start is not None, verbose=False, max_det=20,
        # Channels are moments, not colours: swapping first and last turns time round, which is as true; hue is not.
        bgr=0.5, hsv_h=0.0, hsv_s=0.0, hsv_v=0.35, fliplr=0.5, flipud=0.5, scale=0.25, translate=0.1, mosaic=0.0,
        erasing=0.0,
    )  # fmt: skip
    return best


def export(weights: Path, onnx: Path) -> None:
    """Write .pt weights as an ONNX file for pictures of any size.

    Raises
    ------
    DetectorError
        If the training set is not installed.
    """
    yolo, _ = _ultralytics()
    made = yolo(str(weights)).export(format="onnx", dynamic=True, simplify=True, opset=OPSET, device="cpu")
    onnx.parent.mkdir(parents=True, exist_ok=True)
    shutil.move(str(made), onnx)


def slim(weights: Path, out: Path, half_way_from: Path | None = None) -> None:
    """Keep of a training run's .pt weights what a later training starts from: no optimizer, no paths of a machine.

    Parameters
    ----------
    weights, out : Path
    half_way_from : Path, optional
        The weights that the run started from: what is kept is the mean of both. It has learned nearly as much of the
        new and forgotten less of the old: Wortsman et al., Robust fine-tuning of zero-shot models, CVPR 2022.

    Raises
    ------
    DetectorError
        If the training set is not installed.
    """
    _ultralytics()
    import torch

    run = torch.load(weights, map_location="cpu", weights_only=False)
    model = run.get("ema") or run["model"]
    if half_way_from is not None:
        before = torch.load(half_way_from, map_location="cpu", weights_only=False)["model"].float().state_dict()
        after = model.float().state_dict()
        mean = {key: 0.5 * (before[key] + now) if now.is_floating_point() else now for key, now in after.items()}
        model.load_state_dict(mean)
    model.half()
    for parameter in model.parameters():
        parameter.requires_grad = False
    model.args, model.criterion, model.pt_path = {"task": "detect"}, None, None
    model.yaml = model.yaml | {"yaml_file": ARCHITECTURE.name}
    out.parent.mkdir(parents=True, exist_ok=True)
    kept = {"epoch": -1, "model": model, "train_args": {"task": "detect"}, "version": run["version"]}
    with out.open("wb") as file:  # given a path, torch writes its name into the file
        torch.save(kept, file)


def as_onnx(weights: Path) -> Path:
    """An ONNX file of .pt weights, beside them; made if it is not there or is older.

    Raises
    ------
    DetectorError
        If there is no such file, or the training set is not installed.
    """
    if not weights.is_file():
        raise DetectorError(f"there are no detector weights at {weights}; give another file")
    onnx = weights.with_suffix(".onnx")
    if not onnx.is_file() or onnx.stat().st_mtime < weights.stat().st_mtime:
        export(weights, onnx)
    return onnx


def _epochs_done(last: Path) -> int | None:
    """The last epoch of a run, counted from zero; negative of one that is over, None where its file was cut short."""
    import torch

    try:
        return int(torch.load(last, map_location="cpu", weights_only=False)["epoch"])
    except (EOFError, RuntimeError, pickle.UnpicklingError):  # stopped while it was being written
        return None


def _ultralytics() -> tuple[Any, Any]:
    """The model class, and a trainer that needs no table library; neither calls home or downloads."""
    os.environ.setdefault("YOLO_OFFLINE", "true")
    os.environ.setdefault("YOLO_AUTOINSTALL", "0")
    try:
        from ultralytics import YOLO, settings
        from ultralytics.data import utils as data_utils
        from ultralytics.models.yolo.detect import DetectionTrainer
    except ImportError as error:
        raise DetectorError(f"{NEEDS} ({error})") from None
    settings.update({"sync": False})
    data_utils.check_font = lambda font: None  # else it asks another machine for a font, which only plots would need

    class Trainer(DetectionTrainer):  # type: ignore[misc]
        def read_results_csv(self) -> dict[str, Any]:
            return {}

    return YOLO, Trainer
