"""Plain k-means in CIELAB by OpenCV, as a peer for the benchmark of the inks.

Reads from standard input: k and n as 32-bit integers, then n pixels as three
32-bit floats L*, a*, b* each. Writes a line a cluster: share, L*, a*, b*.
"""

import sys

import cv2
import numpy as np

data = sys.stdin.buffer.read()
k, n = np.frombuffer(data[:8], np.int32)
pixels = np.frombuffer(data[8 : 8 + 12 * int(n)], np.float32).reshape(-1, 3)
cv2.setRNGSeed(1)
rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 0.01)
_, label, centre = cv2.kmeans(pixels, int(k), None, rule, 4, cv2.KMEANS_PP_CENTERS)
count = np.bincount(label.ravel(), minlength=int(k))
for c, m in zip(count, centre):
    print(c / len(pixels), *m)
