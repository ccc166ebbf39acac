#!/usr/bin/python3
"""Writes reference.json, what NumPy and SciPy give for problems that the tests of
this folder solve again. Needs Debian's python3-scipy."""
import json, os
import numpy as np, scipy
from scipy.optimize import minimize
from scipy.stats import median_abs_deviation

rng = np.random.default_rng(7)
X = np.c_[np.ones(40), rng.uniform(-1, 1, (40, 3))]
y = X @ [2, -1, .5, 3] + rng.normal(0, .1, 40)
y[::9] += rng.uniform(3, 6, len(y[::9]))                 # outliers
w = rng.uniform(.5, 2, 40)
A = X.T @ (w[:, None] * X)
ridge = [0, .3, .3, .3]


def m_estimate(rho):
    """the minimum of the sum of rho of the residuals over a scale that is the median absolute residual of the answer (IRLS' fixed point)"""
    b = np.linalg.lstsq(X, y, rcond=None)[0]
    for _ in range(200):
        s = np.sort(abs(X @ b - y))[len(y) // 2] / 0.6744897501960817
        b = minimize(lambda c: rho((X @ c - y) / s).sum(), b, method="BFGS", options={"gtol": 1e-12}).x
    return list(b)


tukey = lambda r, c=4.685: c * c / 6 * (1 - np.maximum(1 - (r / c) ** 2, 0) ** 3)
out = dict(by="NumPy %s, SciPy %s" % (np.__version__, scipy.__version__), terms=X.tolist(), values=y.tolist(), weights=w.tolist(), ridge=ridge,
           plain=np.linalg.lstsq(X, y, rcond=None)[0].tolist(),
           weighted=np.linalg.solve(A, X.T @ (w * y)).tolist(), ridged=np.linalg.solve(A + np.diag(ridge), X.T @ (w * y)).tolist(),
           covariance=np.linalg.inv(A).ravel().tolist(), logdet=np.linalg.slogdet(A)[1],
           tukey=m_estimate(tukey),
           median=float(np.median(y[:39])), mad=float(median_abs_deviation(y[:39], scale="normal")), quantile=float(np.quantile(y, .3, method="inverted_cdf")))
json.dump(out, open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "reference.json"), "w"), indent=1)
