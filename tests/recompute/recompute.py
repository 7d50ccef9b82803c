"""Computes the numbers of a lesson again, with SciPy, and prints them as one JSON object.

    recompute.py READINGS.csv SUMMARY.json [--no-lags] [--own-edges]

Nothing here is taken over from the program but the instants that its other numbers hang on: the
lamp's edges and the marks, from SUMMARY.json (the object of `duskmark analyse --json`). With
`--own-edges` the edges are sought anew (`switching.py`); without it that slow part is left out.

Methods, each by another road than the program's:

- exponentials: scipy.optimize.curve_fit (trust region, numerical derivatives), written as
  `level + gap * exp(-(t - t0) / tau)`, standard uncertainties from its covariance; the first
  rate is that at which it leaves the start, its uncertainty by propagation of that covariance (JCGM
  100:2008, 5.2.2), or that of two exponentials;
- local polynomials: numpy.polyfit (singular values) with its covariance;
- the rules for which rows count are those that the program states: 15 s or a third of the interval
  about a mark, at most two minutes or 0.3 of a phase for start, peak and end, and after an edge
  three lags left out (at most a third of the phase).
"""

import argparse
import csv
import json

import numpy as np
from scipy.optimize import curve_fit

import switching

# Lag in seconds of probe and lamp together where none is declared.
USUAL_LAG_S = 7.0
# Of them the means of what is held before: a probe's 6 s, the lamp's own 2 s.
PROBE_LAG_S, LAMP_LAG_S = 6.0, 2.0
LONGEST_STRETCH_S = 120.0
MARK_REACH_S = 15.0


def read(path):
    """Times in seconds, and one array per column `..._degc`."""
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    names = [name for name in rows[0] if name.endswith("_degc")]
    number = lambda cell: float(cell) if cell else np.nan
    t = np.array([float(row["elapsed_s"]) for row in rows])
    return t, [np.array([number(row[name]) for row in rows]) for name in names]


class Phase:
    """One exponential over the rows of a phase; `t0` is its edge as the lagging reading shows it."""

    def __init__(self, t, y, edge_s, to_s, lag_s):
        guard_s = min(3.0 * lag_s, (to_s - edge_s) / 3.0)
        rows = (t >= edge_s + guard_s) & (t <= to_s)
        u = t[rows] - (edge_s + lag_s)
        degc = y[rows]
        shape = lambda u, level, gap, tau: level + gap * np.exp(-u / tau)
        guess = (degc[-1], degc[0] - degc[-1], 0.4 * (to_s - edge_s))
        p, cov = curve_fit(shape, u, degc, p0=guess, method="trf", x_scale=(1.0, 1.0, 100.0),
                           ftol=1e-14, xtol=1e-14, gtol=1e-14, max_nfev=2000)
        self.level, gap, self.tau = p
        self.u_level, _, self.u_tau = np.sqrt(np.diag(cov))
        self.rate, self.cov = -60.0 * gap / self.tau, cov
        self.begin, self.u_begin = self.level + gap, float(np.sqrt(cov[0, 0] + cov[1, 1] + 2 * cov[0, 1]))

    def leaving(self, start):
        """Rate per minute of a body that leaves `start` on this exponential (Newton's law), and its
        standard uncertainty."""
        ahead = self.level - start
        by = np.array([60.0 / self.tau, 0.0, -60.0 * ahead / self.tau**2])
        return 60.0 * ahead / self.tau, float(np.sqrt(by @ self.cov @ by))


def two_rates(t, y, edge_s, to_s, lag_s, start):
    """First rate per minute of two exponentials that begin at a known temperature, and its standard
    uncertainty for white residuals. None where none is found."""
    guard_s = min(3.0 * lag_s, (to_s - edge_s) / 3.0)
    rows = (t >= edge_s + guard_s) & (t <= to_s)
    u, change = t[rows] - (edge_s + lag_s), y[rows] - start
    sign = np.sign(change[-1])
    fastest = 1.0 / max(lag_s, 2.0 * (to_s - edge_s) / len(u))
    shape = lambda u, a, p, b, q: -sign * (a * np.expm1(-p * u) + b * np.expm1(-q * u))
    best = None
    for fast in (0.6 * fastest, 0.3 * fastest, 0.1 * fastest, 0.03 * fastest):
        guess = (0.3 * abs(change[-1]), fast, abs(change[-1]), 2.0 / (to_s - edge_s))
        try:
            p, cov = curve_fit(shape, u, change, p0=guess, bounds=(0.0, (np.inf, fastest, np.inf, fastest)),
                               x_scale=(1.0, 0.01, 1.0, 0.01), ftol=1e-13, xtol=1e-13, gtol=1e-13, max_nfev=4000)
        except RuntimeError:
            continue
        misfit = float(np.sum((change - shape(u, *p)) ** 2))
        if best is None or misfit < best[0]:
            best = misfit, p, cov
    if best is None:
        return None
    _, (a, p, b, q), cov = best
    by = 60.0 * np.array([p, a, q, b])
    variance = float(by @ cov @ by)
    # Where one exponential is all there is, the other's part of the covariance has no bounds.
    if not (np.isfinite(variance) and variance > 0.0):
        return None
    return sign * 60.0 * (a * p + b * q), float(np.sqrt(variance))


def rates(phase, two, start, u_edge, turn=1.0):
    """The candidates for a first rate: one exponential's, unless it misses the start, and two's."""
    meets = abs(phase.begin - start) <= 4.0 * np.hypot(phase.u_begin, phase.rate / 60.0 * u_edge)
    found = ([phase.leaving(start)] if meets else []) + ([two] if two else [])
    return [[turn * rate, u] for rate, u in found]


def value_at(t, y, at_s, degree):
    """Value at an instant of a polynomial through the rows, its standard uncertainty for the
    scatter that the residuals show, and the slope there."""
    # Centred at the instant, the constant term is the value, the one before it the slope.
    p, cov = np.polyfit(t - at_s, y, degree, cov=True)
    return float(p[-1]), float(np.sqrt(cov[-1, -1])), float(p[-2])


def between(t, y, from_s, to_s):
    rows = (t >= from_s) & (t <= to_s)
    return t[rows], y[rows]


def start(t, y, on, u_on):
    """Mean of the two minutes before the lamp, or a line where a drift is plain."""
    t, y = between(t, y, on - u_on - LONGEST_STRETCH_S, on - u_on)
    (slope, value), cov = np.polyfit(t - on, y, 1, cov=True)
    plain = abs(slope) > 4.0 * np.sqrt(cov[0, 0])
    return float(value) if plain else float(np.mean(y))


def phase_end(t, y, edge_s, to_s, lag_s):
    """The temperature that a phase ends with: a parabola through its last stretch."""
    begin = edge_s + min(3.0 * lag_s, (to_s - edge_s) / 3.0)
    stretch = min(0.3 * (to_s - begin), LONGEST_STRETCH_S)
    t, y = between(t, y, max(begin, to_s - stretch), to_s)
    return value_at(t, y, to_s, 2)


def peak(t, y, on, off, end_s, lag_s):
    """The heating's end, or the hottest mean of five readings after it where a lag carries it on.

    Returns both candidates (no second one without a lag): which of them counts is a matter of their
    scatter.
    """
    at_off, u, slope = phase_end(t, y, on, off, lag_s)
    _, after = between(t, y, off, min(off + 8.0 * lag_s, end_s))
    top = float(np.convolve(after, np.ones(5) / 5.0, "valid").max()) if len(after) >= 5 else None
    # A first-order lag shows the sample late: it is ahead of its probe, and as long as half the lamp's
    # own lag warmed on.
    if lag_s > 0.0:
        at_off += max(slope, 0.0) * (PROBE_LAG_S + 0.5 * LAMP_LAG_S)
    return at_off, u, top


def mark(t, y, at_s, interval_s, edges):
    """A parabola through the rows about a mark that lie in its own stretch between edges."""
    spacing = float(np.median(np.diff(t)))
    low = max([e for e in edges if e < at_s - 0.01 * spacing], default=-np.inf)
    high = min([e for e in edges if e >= at_s - 0.01 * spacing], default=np.inf)
    reach = max(min(MARK_REACH_S, interval_s / 3.0), 1.5 * min(spacing, MARK_REACH_S))
    t, y = between(t, y, max(at_s - reach, low), min(at_s + reach, high))
    return value_at(t, y, at_s, 2)[:2] if len(t) >= 7 else None


def sample(t, y, edges, summary, lag_s):
    keep = np.isfinite(y)
    t, y = t[keep], y[keep]
    (on, u_on), (off, u_off) = edges
    heating = Phase(t, y, on, off, lag_s)
    cooling = Phase(t, y, off, t[-1], lag_s)
    at_off, u_at_off, top = peak(t, y, on, off, t[-1], lag_s)
    before = start(t, y, on, u_on)
    highest = at_off if top is None else max(at_off, top)
    warming = two_rates(t, y, on, off, lag_s, before)
    falling = two_rates(t, y, off, t[-1], lag_s, highest)
    end, _, slope = phase_end(t, y, off, t[-1], lag_s)
    marks = [m["at_s"] for m in summary["marks"]]
    interval = marks[1] - marks[0] if len(marks) > 1 else np.inf
    return {
        "start_degc": before,
        "at_off_degc": at_off,
        "u_at_off_degc": u_at_off,
        "top_degc": top,
        "end_degc": end + slope * (PROBE_LAG_S if lag_s > 0.0 else 0.0),
        "rates": {
            "heating_rate_degc_per_min": rates(heating, warming, before, u_on),
            "cooling_rate_degc_per_min": rates(cooling, falling, highest, u_off, -1.0),
        },
        "time_constant_s": cooling.tau,
        "air_degc": cooling.level,
        "u": {
            "time_constant_s": cooling.u_tau,
            "air_degc": cooling.u_level,
        },
        "marks": [mark(t, y, at, interval, [on, off]) for at in marks],
    }


def main():
    words = argparse.ArgumentParser()
    words.add_argument("readings")
    words.add_argument("summary")
    words.add_argument("--no-lags", action="store_true")
    words.add_argument("--own-edges", action="store_true")
    asked = words.parse_args()
    with open(asked.summary, encoding="utf-8") as file:
        summary = json.load(file)
    t, columns = read(asked.readings)
    # A 95 % interval of a normal distribution has a half-width of 1.96 standard uncertainties.
    edges = [(e["at_s"], (e["high_s"] - e["low_s"]) / (2 * 1.96)) for e in summary["lamp"]]
    lag_s = 0.0 if asked.no_lags else USUAL_LAG_S
    result = {"samples": [sample(t, y, edges, summary, lag_s) for y in columns]}
    if asked.own_edges:
        result["lamp"] = switching.find(t, columns, lags=not asked.no_lags)
    print(json.dumps(result))


if __name__ == "__main__":
    main()
