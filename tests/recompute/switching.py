"""When the lamp was switched, from a model of the whole lesson fitted by scipy.optimize.

The model is written from the physics. A lamp that is switched at two instants warms up and dies
down as a first-order lag. Each sample is two lumped bodies in contact, a surface that takes up the
light and a bulk behind it, each with Newton's law of cooling: a linear system of second order,
whose response to a step of light is a sum of two exponential approaches with amounts of the same
sign. A probe follows its surface as a first-order lag. Air that drifts adds a straight line, and a
sample that is not at rest when the record begins adds its own slow exponential.

So each channel is a linear combination of columns that depend on the two instants, two time
constants, and the lags. The linear amounts are solved by numpy.linalg.lstsq inside
scipy.optimize.least_squares (variable projection, Golub and Pereyra 1973). Lags that are not
declared get the priors that the program states: log-normal, probe 6 s with standard deviation 3 s,
lamp 2 s with 1.5 s, as further residuals.
"""

import numpy as np
from scipy.optimize import least_squares

# Rows are averaged in blocks of so many seconds away from the edges.
BLOCK_S = 3.0


def log_normal(mean, sd):
    """Mean and standard deviation of the logarithm."""
    variance = np.log(1.0 + (sd / mean) ** 2)
    return np.log(mean) - variance / 2.0, np.sqrt(variance)


PROBE = log_normal(6.0, 3.0)
LAMP = log_normal(2.0, 1.5)


def approach(u, constants):
    """Response to a unit step at u = 0 of first-order lags in a chain, by partial fractions."""
    constants = [c for c in constants if c > 0.0]
    # Equal constants would divide by zero; a thousandth apart they mean the same.
    for i in range(1, len(constants)):
        while any(abs(constants[i] / c - 1.0) < 1e-3 for c in constants[:i]):
            constants[i] *= 1.002
    u = np.maximum(u, 0.0)
    response = np.ones_like(u)
    for i, c in enumerate(constants):
        weight = np.prod([c / (c - other) for j, other in enumerate(constants) if j != i])
        response -= weight * np.exp(-u / c)
    return np.where(u > 0.0, response, 0.0)


def blocks(t, y, near):
    """Means over blocks of time, single rows near the edges, and how many rows each stands for."""
    fine = np.min(np.abs(t[:, None] - np.array(near)[None, :]), axis=1) < 60.0
    key = np.where(fine, np.arange(len(t)) + 10**9, np.floor(t / BLOCK_S))
    _, where, count = np.unique(key, return_inverse=True, return_counts=True)
    mean = lambda v: np.bincount(where, weights=v) / count
    order = np.argsort(mean(t))
    return mean(t)[order], mean(y)[order], count[order].astype(float)


def first_look(t, columns):
    """Instants of steepest and most falling slope of the smoothed mean: a place to begin."""
    grid = np.arange(t[0], t[-1], 2.0)
    mean = sum(np.interp(grid, t[np.isfinite(y)], y[np.isfinite(y)]) for y in columns)
    width = 10
    slope = mean[width:] - mean[:-width]
    change = slope[width:] - slope[:-width]
    at = grid[width:-width]
    return at[np.argmax(change)], at[np.argmin(change)]


class Lesson:
    """Residuals of all channels, in units of their noise, as a function of the parameters."""

    def __init__(self, t, columns, lags):
        self.lags = lags
        self.begin = first_look(t, columns)
        self.origin = t[0]
        self.curves = []
        for y in columns:
            keep = np.isfinite(y)
            bt, by, n = blocks(t[keep], y[keep], self.begin)
            second = np.diff(y[keep], 2)
            # Second differences of white noise have six times its variance.
            sd = 1.4826 * np.median(np.abs(second)) / np.sqrt(6.0)
            self.curves.append((bt, by, np.sqrt(n) / sd))

    def guess(self):
        constants = [np.log([300.0, 40.0] if self.lags else [300.0])] * len(self.curves)
        own = [[PROBE[0]]] * len(self.curves) if self.lags else []
        lamp = [[LAMP[0]]] if self.lags else []
        return np.concatenate([self.begin, *constants, *own, *lamp])

    def parts(self, p):
        each = 2 if self.lags else 1
        n = len(self.curves)
        constants = np.exp(p[2 : 2 + each * n]).reshape(n, each)
        if not self.lags:
            return p[:2], constants, np.zeros(n), 0.0
        return p[:2], constants, np.exp(p[2 + each * n : 2 + each * n + n]), np.exp(p[-1])

    def residuals(self, p, scales=None):
        (on, off), constants, probes, lamp = self.parts(p)
        out = []
        for k, (t, y, root) in enumerate(self.curves):
            pulse = lambda c: (approach(t - on, [c, probes[k], lamp])
                               - approach(t - off, [c, probes[k], lamp]))
            columns = [np.ones_like(t), (t - t.mean()) / 1000.0]
            columns += [pulse(c) for c in constants[k]]
            if self.lags:
                columns.append(np.exp(-(t - self.origin) / constants[k].max()))
            a = np.stack(columns, axis=1) * root[:, None]
            amounts, *_ = np.linalg.lstsq(a, y * root, rcond=None)
            scale = 1.0 if scales is None else scales[k]
            out.append((y * root - a @ amounts) / scale)
        if self.lags:
            out.append((np.log(probes) - PROBE[0]) / PROBE[1])
            out.append(np.array([(np.log(lamp) - LAMP[0]) / LAMP[1]]))
        return np.concatenate(out)


def find(t, columns, lags):
    """Both edges with their standard uncertainties in seconds."""
    lesson = Lesson(t, columns, lags)
    scales = None
    p = lesson.guess()
    # Twice: the second time with the noise that the first one's residuals show.
    for _ in range(2):
        fit = least_squares(lesson.residuals, p, args=(scales,), x_scale=np.where(p > 30, 1.0, 0.1),
                            method="trf", ftol=1e-12, xtol=1e-12, gtol=1e-12, max_nfev=300)
        p = fit.x
        rest = lesson.residuals(p)
        cuts = np.cumsum([len(c[0]) for c in lesson.curves])
        scales = [max(1e-9, np.sqrt(np.mean(r**2))) for r in np.split(rest, cuts)[: len(cuts)]]
    # The amounts are solved inside, so this is the covariance of the full problem's instants.
    cov = np.linalg.pinv(fit.jac.T @ fit.jac)
    u = np.sqrt(np.diag(cov))
    _, constants, probes, lamp = lesson.parts(p)
    return {
        "on_s": p[0], "off_s": p[1], "u_on_s": u[0], "u_off_s": u[1],
        "u_heating_s": float(np.sqrt(cov[0, 0] + cov[1, 1] - 2 * cov[0, 1])),
        "constants_s": constants.tolist(), "probe_lags_s": list(map(float, probes)),
        "lamp_lag_s": float(lamp),
    }
