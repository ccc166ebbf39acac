"""Mean CIE L* of photos with scikit-image: decode, to XYZ (which is linear light), average.

usage: skimage_mean.py REPEATS PHOTO...  -> prints the least seconds for all, and the last L*
"""
import sys
import time

from skimage import color, io

best = 1e9
for _ in range(int(sys.argv[1])):
    start = time.perf_counter()
    for name in sys.argv[2:]:
        y = color.rgb2xyz(io.imread(name))[..., 1].mean()
    best = min(best, time.perf_counter() - start)
print(best, 116 * y ** (1 / 3) - 16)
