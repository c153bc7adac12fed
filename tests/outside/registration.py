"""Pairs of prints made of real photographs, and their registration with OpenCV and scikit-image.

The photographs ship inside scikit-image under open licences, as its own documentation states them.
"""

import time
from pathlib import Path

import numpy as np

PHOTOGRAPHS = {
    "astronaut": "public domain",
    "brick": "CC0",
    "camera": "CC0",
    "chelsea": "CC0",
    "coffee": "CC0",
    "grass": "CC0",
    "gravel": "CC0",
    "hubble_deep_field": "public domain",
    "moon": "public domain",
    "rocket": "CC0",
}
# Print pixels for one pixel of a photograph: the spline through its pixels is the scene.
FINER = 1.35


def scene(name):
    """The photograph as grey reflectance, its spline coefficients ready to be sampled anywhere."""
    from scipy import ndimage
    from skimage import data

    picture = getattr(data, name)().astype(float)
    if picture.ndim == 3:
        picture = picture[..., :3] @ [0.2126, 0.7152, 0.0722]
    picture = ndimage.gaussian_filter(picture[:700, :700] / picture.max(), 0.6)
    return ndimage.spline_filter(picture, order=5, mode="mirror")


def shown(coefficients, to_scene, size, rng):
    """A print of the scene: 16-bit codes that fall with density; tone curve, falloff, grain and dust of its own."""
    from scipy import ndimage

    w, h = size
    y, x = np.mgrid[0:h, 0:w] + 0.5
    place = np.einsum("ij,jkl->ikl", to_scene, np.stack([x, y, np.ones_like(x)]))
    place = place[:2] / place[2] / FINER - 0.5
    tone = ndimage.map_coordinates(coefficients, place[::-1], order=5, mode="mirror", prefilter=False)
    tone = 1 / (1 + np.exp(-rng.uniform(3, 6) * (tone - rng.uniform(0.35, 0.6))))
    u, v = x / w - 0.5, y / h - 0.5
    tone = tone * (1 - rng.uniform(0, 0.3) * (u * u + v * v))
    tone = 0.05 + 0.85 * tone + rng.uniform(0.005, 0.03) * rng.standard_normal(tone.shape)
    for _ in range(rng.integers(0, 15)):
        cx, cy, r = rng.uniform(0, w), rng.uniform(0, h), rng.uniform(1, 2.5)
        tone[(x - cx) ** 2 + (y - cy) ** 2 < r * r] = 0.95
    return np.round(65535 * np.clip(tone, 0, 1)).astype(np.uint16)


def photographs(folder, each):
    """Writes `each` pairs of every photograph; each third pair is seen aslant."""
    import tifffile

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    pairs = []
    for number, name in enumerate(PHOTOGRAPHS):
        coefficients = scene(name)
        h, w = [FINER * s for s in coefficients.shape]
        for k in range(each):
            rng = np.random.default_rng(100 * number + k)
            size = (560, 520)
            corner = np.array([[1, 0, rng.uniform(0, max(1, w - 560))], [0, 1, rng.uniform(0, max(1, h - 520))], [0, 0, 1.0]])
            angle, scale = np.radians(rng.uniform(-12, 12)), 0.85 * (1.2 / 0.85) ** rng.uniform()
            c, s = scale * np.cos(angle), scale * np.sin(angle)
            bent = np.eye(3)
            if (number + k) % 3 == 2:
                bent[2, :2] = rng.uniform(-6e-5, 6e-5, 2)
            shift = np.array([[1, 0, 280 + rng.uniform(-70, 70)], [0, 1, 260 + rng.uniform(-65, 65)], [0, 0, 1.0]])
            truth = shift @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]) @ bent
            truth = truth @ np.array([[1, 0, -280], [0, 1, -260], [0, 0, 1.0]])
            paths = [str(folder / f"{name}-{k}-{side}.tif") for side in ("first", "second")]
            tifffile.imwrite(paths[0], shown(coefficients, corner, size, rng))
            tifffile.imwrite(paths[1], shown(coefficients, corner @ np.linalg.inv(truth), size, rng))
            pairs.append({"name": f"{name} {k}", "first": paths[0], "second": paths[1], "truth": truth.tolist()})
    return {"pairs": pairs}


# ---- methods: each takes two pictures (float, 0..1) and gives the matrix between pixel centres, or None ----------------


def features(a, b, detector, norm):
    import cv2

    (ka, da), (kb, db) = (detector.detectAndCompute((255 * p).astype(np.uint8), None) for p in (a, b))
    if da is None or db is None or min(len(ka), len(kb)) < 8:
        return None
    good = [m[0] for m in cv2.BFMatcher(norm).knnMatch(da, db, k=2) if len(m) == 2 and m[0].distance < 0.8 * m[1].distance]
    if len(good) < 8:
        return None
    source = np.float32([ka[m.queryIdx].pt for m in good])
    target = np.float32([kb[m.trainIdx].pt for m in good])
    found, _ = cv2.findHomography(source, target, cv2.RANSAC, 1.5, maxIters=5000, confidence=0.999)
    return found


def opencv_orb(a, b):
    import cv2

    return features(a, b, cv2.ORB_create(3000), cv2.NORM_HAMMING)


def opencv_sift(a, b):
    import cv2

    return features(a, b, cv2.SIFT_create(3000), cv2.NORM_L2)


def ecc(a, b, start):
    """Enhanced correlation from coarse to fine, a homography."""
    import cv2

    warp, before = start.copy(), 1
    for k, s in ((4, 4.0), (2, 2.0), (1, 1.2)):
        small = [cv2.GaussianBlur(p - cv2.GaussianBlur(p, (0, 0), 40), (0, 0), s)[::k, ::k].copy() for p in (a, b)]
        resize = np.diag([before / k, before / k, 1.0])
        warp, before = resize @ warp @ np.linalg.inv(resize), k
        stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 100, 1e-6)
        try:
            _, found = cv2.findTransformECC(small[0], small[1], (warp / warp[2, 2]).astype(np.float32), cv2.MOTION_HOMOGRAPHY, stop)
        except cv2.error:
            return None
        warp = found.astype(float)
    return warp


def opencv_ecc(a, b):
    return ecc(a, b, np.eye(3))


def opencv_sift_ecc(a, b):
    start = opencv_sift(a, b)
    return None if start is None else ecc(a, b, start.astype(float))


def skimage_orb(a, b):
    """ORB and RANSAC for a homography; what shift remains by phase correlation."""
    from skimage import feature, measure, registration, transform

    found = []
    for picture in (a, b):
        orb = feature.ORB(n_keypoints=1000)
        orb.detect_and_extract(picture)
        found.append((orb.keypoints[:, ::-1], orb.descriptors))
    matches = feature.match_descriptors(found[0][1], found[1][1], cross_check=True)
    if len(matches) < 8:
        return None
    source, target = found[0][0][matches[:, 0]], found[1][0][matches[:, 1]]
    model, _ = measure.ransac((source, target), transform.ProjectiveTransform, min_samples=4, residual_threshold=2, max_trials=2000, rng=1)
    if not model:
        return None
    brought = transform.warp(b, model, order=3, mode="edge")
    shift, _, _ = registration.phase_cross_correlation(a, brought, upsample_factor=20)
    back = np.eye(3)
    back[:2, 2] = -shift[::-1]
    return model.params @ back


METHODS = {
    "OpenCV, ORB and RANSAC": opencv_orb,
    "OpenCV, SIFT and RANSAC": opencv_sift,
    "OpenCV, ECC coarse to fine": opencv_ecc,
    "OpenCV, SIFT, RANSAC and ECC": opencv_sift_ecc,
    "scikit-image, ORB, RANSAC, phase": skimage_orb,
}


def register_pairs(pairs, method):
    """One method on all pairs: for each the matrix between pixels whose corner is (0, 0), or none; seconds of all."""
    import tifffile

    to_centre, to_corner = (np.array([[1, 0, d], [0, 1, d], [0, 0, 1.0]]) for d in (-0.5, 0.5))
    answers, seconds = [], []
    for pair in pairs:
        a, b = (tifffile.imread(pair[side]).astype(np.float32) / 65535 for side in ("first", "second"))
        start = time.perf_counter()
        found = METHODS[method](a, b)
        seconds.append(time.perf_counter() - start)
        if found is not None and np.isfinite(found).all() and abs(found[2, 2]) > 1e-9:
            whole = to_corner @ found @ to_centre
            answers.append((whole / whole[2, 2]).tolist())
        else:
            answers.append(None)
    return {"matrices": answers, "each": seconds, "seconds": float(np.sum(seconds))}
