#!/usr/bin/python3
"""Writes reference.json: what OpenCV, SciPy and scikit-image give for pictures
that the tests of this folder look at again. Needs Debian's python3-opencv,
python3-scipy and python3-skimage."""
import json, os
import cv2, numpy as np, scipy, skimage
from scipy.ndimage import binary_fill_holes, distance_transform_edt, gaussian_filter, label
from skimage.segmentation import watershed

rng = np.random.default_rng(11)
H, W = 41, 57
noise = gaussian_filter(rng.normal(size=(H, W)), 2.2)
m = noise > .02
rows = ["".join("#" if v else "." for v in r) for r in m]


def sizes(structure):
    lab, n = label(m, structure)
    return [int((lab == i + 1).sum()) for i in range(n)]


def disc(r):
    k = int(r); y, x = np.mgrid[-k:k + 1, -k:k + 1]
    return (x * x + y * y <= r * r).astype(np.uint8)


pad = np.pad(m, 1)                                      # what lies beyond counts as outside
depth = distance_transform_edt(pad)[1:-1, 1:-1]
lab, n = label(m, np.ones((3, 3)))
big = lab == 1 + int(np.argmax(np.bincount(lab.ravel())[1:]))
corners = np.array([(x + dx, y + dy) for y, x in zip(*np.nonzero(big)) for dx in (0, 1) for dy in (0, 1)], np.int32)
hull = cv2.convexHull(corners)
steps = np.int32(np.round((noise - noise.min()) / (noise.max() - noise.min()) * 4095))    # as many as there are levels
markers = np.zeros((H, W), np.int32); markers[5, 5], markers[30, 12], markers[20, 50], markers[36, 40] = 1, 2, 3, 4
star = np.float32([(10 + (9 if i % 2 else 3.5) * np.cos(i * np.pi / 5 + .2), 11 + (9 if i % 2 else 3.5) * np.sin(i * np.pi / 5 + .2)) for i in range(10)])
grid = [(x + .37, y + .21) for y in range(0, 22, 2) for x in range(0, 22, 2)]
ops = {}
for r in (1, 1.5, 2, 3.2):
    k = disc(r); p = int(r) + 1; q = np.pad(m.astype(np.uint8), 2 * p)
    cut = lambda a: a[2 * p:-2 * p, 2 * p:-2 * p]
    ops[str(r)] = dict(eroded=int(cut(cv2.erode(q, k)).sum()), dilated=int(cut(cv2.dilate(q, k)).sum()),
                       opened=int(cut(cv2.morphologyEx(q, cv2.MORPH_OPEN, k)).sum()), closed=int(cut(cv2.morphologyEx(q, cv2.MORPH_CLOSE, k)).sum()))
out = dict(by="OpenCV %s, SciPy %s, scikit-image %s" % (cv2.__version__, scipy.__version__, skimage.__version__), rows=rows,
           sides=sizes(None), corners=sizes(np.ones((3, 3))), filled=int(binary_fill_holes(m).sum()), depth=[round(float(v), 5) for v in depth.ravel()], discs=ops,
           largest=int(big.sum()), hull=[[int(v) for v in p[0]] for p in hull], hull_area=cv2.contourArea(hull),
           height=steps.ravel().tolist(),
           watershed=watershed(steps, markers).ravel().tolist(), markers=markers.ravel().tolist(),
           star=star.tolist(), star_area=cv2.contourArea(star), star_length=cv2.arcLength(star, True),
           grid=grid, in_star=[cv2.pointPolygonTest(star.reshape(-1, 1, 2), p, False) > 0 for p in grid])
mo = cv2.moments(star); out["star_centre"] = [mo["m10"] / mo["m00"], mo["m01"] / mo["m00"]]
json.dump(out, open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "reference.json"), "w"), separators=(",", ":"))
