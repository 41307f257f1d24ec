import numpy as np

from balltrack.camera.marks import LensPrior, Mark
from balltrack.camera.model import project_parameters
from balltrack.camera.solve import MARK_SD_SHARE, foresee, solve
from balltrack.planning.phone import Phone
from tests.planning.scenes import scene

DRAWS = 8


def test_the_foreseen_covariance_is_what_solving_such_marks_states() -> None:
    # Each solve learns the marks' noise from about 20 degrees of freedom and as good as 8 more stated ones: its sds
    # scatter by 1/sqrt(2 x 28) = 13 %, their mean over 8 by 5 %. Three of these and the curvature: a fifth.
    phone, marks_m, rng = Phone(), scene().ground.marks_m, np.random.default_rng(5)
    (parameters,) = phone.level_cameras(np.array([1.0, -5.5, 1.5]), np.array([-0.1]), np.array([-0.12]))
    lens = LensPrior(phone.focal_px, 0.01 * phone.focal_px)
    foreseen = np.sqrt(np.diag(foresee(parameters, marks_m, phone.size_px, lens).covariance))
    pixels, sd_px = project_parameters(marks_m, parameters), MARK_SD_SHARE * max(phone.size_px)
    stated = []
    for _ in range(DRAWS):
        clicked = pixels + rng.normal(0, sd_px, pixels.shape)
        marks = [
            Mark(f"mark {k}", tuple(point), tuple(pixel))
            for k, (point, pixel) in enumerate(zip(marks_m, clicked, strict=True))
        ]
        stated.append(np.sqrt(np.diag(solve(marks, phone.size_px, lens).camera.covariance)))
    np.testing.assert_allclose(np.mean(stated, axis=0), foreseen, rtol=0.2)
