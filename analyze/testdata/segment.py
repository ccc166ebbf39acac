"""Pieces of cloth on a plain ground by OpenCV, as a peer for the benchmark of
table photos: difference from the ground in CIELAB, threshold, morphology,
connected components.

usage: segment.py PHOTO...  -> a line a photo, "photo", its path; then a line a
piece, its outline as x,y x,y ... in pixels of the upright photo
"""

import sys

import cv2
import numpy as np


def ground(lab, near):
    """The ground under uneven light: a surface of degree 2 through the pixels
    that are near it, for L*, a* and b* each."""
    h, w = near.shape
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    x, y = 2 * x / w - 1, 2 * y / h - 1
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    rows = np.flatnonzero(near)[::7]
    fit, *_ = np.linalg.lstsq(terms.reshape(-1, 6)[rows], lab.reshape(-1, 3)[rows], rcond=None)
    return (terms.reshape(-1, 6) @ fit).reshape(lab.shape).astype(np.float32)


def threshold(far):
    """Between the ground's peak and the long tail of all else (Zack, Rogers
    and Latt 1977)."""
    steps = np.clip(far * 4, 0, 255).astype(np.uint8)
    return cv2.threshold(steps, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_TRIANGLE)[0] / 4


def pieces(path):
    photo = cv2.imread(path, cv2.IMREAD_COLOR)
    lab = cv2.cvtColor(photo.astype(np.float32) / 255, cv2.COLOR_BGR2LAB)
    lab = cv2.medianBlur(lab, 5)
    h, w = lab.shape[:2]
    rim = np.concatenate([lab[: h // 40].reshape(-1, 3), lab[-h // 40 :].reshape(-1, 3), lab[:, : w // 40].reshape(-1, 3), lab[:, -w // 40 :].reshape(-1, 3)])
    plain = np.broadcast_to(np.median(rim, axis=0), lab.shape).astype(np.float32)
    reach = 20.0
    for _ in range(4):
        near = np.linalg.norm(lab - plain, axis=-1) < reach
        if near.sum() < 1000:
            break
        plain = ground(lab, near)
        reach = max(8.0, reach * 0.7)
    off = lab - plain
    off[..., 0] *= np.where(off[..., 0] < 0, 0.5, 1)  # a shadow is darker too
    far = np.linalg.norm(off, axis=-1)
    mask = (far > threshold(far)).astype(np.uint8)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    mask = cv2.morphologyEx(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, disc), cv2.MORPH_OPEN, disc)
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    usual = np.median([cv2.contourArea(o) for o in outlines if cv2.contourArea(o) > 8e-5 * w * h] or [0])
    return [cv2.approxPolyDP(o, 1, True)[:, 0, :] for o in outlines if cv2.contourArea(o) > max(8e-5 * w * h, 0.06 * usual)]


for name in sys.argv[1:]:
    print("photo", name)
    for outline in pieces(name):
        print(" ".join(f"{x + 0.5},{y + 0.5}" for x, y in outline))
