"""Finds lamp edges with general-purpose libraries, on the records of the lamp study.

    python lamp_libraries.py LESSONS FOLDER [K/N]

FOLDER and LESSONS are what `lamp_study records=...` wrote, LESSONS on other seeds; K/N takes every
Nth record from the Kth, for N processes at once. Writes `answers-TOOL-K.jsonl` into FOLDER.
`benches/lamp_table` runs all of this and says which versions.

Every library is told how many edges there are and whether lags are open, and given

- channels that have no value, or only one, left out; rows without a value left out;
- spikes left out (rows more than 5 robust standard deviations from the median of 7 around them);
- the mean of bins where it would be slow: at most 300 rows for pwlf, 600 for ruptures and scipy;
- a start: the highest peaks of the smoothed mean as lamp off, the last low before each as lamp on;
- where lags are open, its median error on the same family in LESSONS, taken off: what a user would
  learn from lessons with a known lamp. Our own estimator gets no such thing; it has a prior.

What is used of each is the best of what was tried on the seeds 0 to 19:

- scipy: `curve_fit` of Newton's exchange with all channels and edges at once (one fast node more
  where lags are open), exact derivatives. Worse: loss="soft_l1"; one
  exponential for each side with a continuous join (as good in a short window, without lags).
- pwlf: `fit_guess` in a window about lamp off, three straight pieces where lags are open, two
  quadratic ones where not or where rows are few. Worse, on the whole record: three straight pieces (20 s
  median error, shift taken off), three quadratic ones (9 s), five straight ones (3 s); `fitfast`
  (the wrong break in most records).
- ruptures: `BottomUp` with quadratics (CostLinear, time and its square as covariates) on the whole,
  then in a window about lamp off an exhaustive search with CostAR (order 1, which is what Newton's
  exchange is) where lags are open, quadratics where not. For few rows `Dynp` with CostAR, and where
  lines through three rows on each side meet. Worse: CostCLinear, CostLinear with straight lines,
  KernelCPD on the slope; `Dynp` with many rows is as good and slower.
"""

import json
import sys
import time
import warnings
from pathlib import Path

import numpy as np
import pwlf
import ruptures
from scipy.ndimage import median_filter, uniform_filter1d
from scipy.optimize import curve_fit
from scipy.signal import find_peaks
# Records of fewer rows have too few in a window for the finer models.
FEW = 60


def clean(t, channels):
    """Channels as (times, values), without dead ones, gaps and spikes."""
    out = []
    for y in channels:
        good = np.isfinite(y)
        if good.sum() < 5 or np.ptp(y[good]) == 0:
            continue
        t_good, y_good = t[good], y[good]
        if len(y_good) >= 100:
            away = np.abs(y_good - median_filter(y_good, 7, mode="nearest"))
            scale = max(1.4826 * np.median(away), 0.1)
            keep = away < 5 * scale
            t_good, y_good = t_good[keep], y_good[keep]
        out.append((t_good, y_good))
    return out


def binned(t, y, most):
    """Means of bins of rows, so that at most `most` remain."""
    width = -(-len(t) // most)
    if width == 1:
        return t, y
    n = len(t) // width * width
    return t[:n].reshape(-1, width).mean(1), y[:n].reshape(-1, width).mean(1)


def mean_signal(curves, most):
    """Mean over channels, each scaled to its range, on the times of the first."""
    t, _ = binned(*curves[0], most)
    total = np.zeros(len(t))
    for times, values in curves:
        times, values = binned(times, values, most)
        total += np.interp(t, times, (values - values.min()) / np.ptp(values))
    return t, total / len(curves)


def start(curves, edges):
    """On, off, on, off: from peaks of the smoothed mean, and the last low before each."""
    t, y = mean_signal(curves, 300)
    if len(t) >= 60:
        y = uniform_filter1d(y, 5)
    # A low at either end makes a peak at the border a peak.
    peaks, how = find_peaks(np.r_[-1, y, -1], prominence=0.05)
    order = np.argsort(how["prominences"])[::-1][: edges // 2]
    peaks = np.sort(np.clip(peaks[order] - 1, 2, len(t) - 2))
    while len(peaks) < edges // 2:
        peaks = np.r_[peaks, len(t) - 2]
    out, before = [], 0
    for peak in peaks:
        stretch = y[before : peak + 1]
        low = stretch.min()
        lows = np.flatnonzero(stretch <= low + 0.05 * (y[peak] - low))
        out += [t[before + lows[-1]], t[peak]]
        before = peak
    out = np.array(out)
    for j in range(1, len(out)):
        out[j] = max(out[j], out[j - 1] + 1e-3 * (t[-1] - t[0]))
    return out


def windows(curves, lamp, share):
    """For each lamp-off of a start: the curves about it, up to a share of the way to the edges
    beside it, more where that holds few rows."""
    end = max(t[-1] for t, _ in curves)
    for j in range(1, len(lamp), 2):
        before = lamp[j] - lamp[j - 1]
        after = (lamp[j + 1] if j + 1 < len(lamp) else end) - lamp[j]
        rows = len(curves[0][0]) * (before + after) / (end - curves[0][0][0])
        own = min(1.0, max(share, 14 / rows))
        low, high = lamp[j] - own * before, lamp[j] + own * after
        inside = [(t >= low) & (t <= high) for t, _ in curves]
        yield lamp[j], [(t[i], y[i]) for (t, y), i in zip(curves, inside) if i.sum() > 3]


def edge(at, half=np.nan):
    known = np.isfinite(half)
    return {
        "at_s": float(at),
        "low_s": float(at - half) if known else None,
        "high_s": float(at + half) if known else None,
    }


def newton(where, p, edges, nodes, need_slopes):
    """Newton's exchange: air, start above air, then rise and time constant of each node."""
    lamp, own = p[:edges], 2 + 2 * nodes
    signs = np.resize([1.0, -1.0], edges)
    values, slopes = [], []
    for c, t in enumerate(where):
        first = edges + own * c
        air, above = p[first : first + 2]
        begin = np.exp(-t / p[first + 3])
        u = np.maximum(t[:, None] - lamp, 0)
        value = air + above * begin
        slope = np.zeros((len(t), len(p)))
        slope[:, first] = 1.0
        slope[:, first + 1] = begin
        slope[:, first + 3] = above * begin * t / p[first + 3] ** 2
        for node in range(nodes):
            place = first + 2 + 2 * node
            rise, tau = p[place : place + 2]
            fade = np.exp(-u / tau)
            steps = (1.0 - fade) @ signs
            value = value + rise * steps
            if need_slopes:
                slope[:, :edges] -= np.where(u > 0, rise * signs * fade / tau, 0.0)
                slope[:, place] = steps
                slope[:, place + 1] -= rise * ((u * fade) @ signs) / tau**2
        values.append(value)
        slopes.append(slope)
    return np.concatenate(slopes if need_slopes else values)


def noise(y):
    """Standard deviation of the readings, from the differences of neighbours."""
    step = np.diff(y)
    return max(np.std(step[np.abs(step) < 1]) / 1.4142, 0.01)


def fit_scipy(curves, edges, no_lags):
    nodes = 1 if no_lags else 2
    curves = [binned(*curve, 2000 if no_lags else 600) for curve in curves]
    origin = min(t[0] for t, _ in curves)
    where = [t - origin for t, _ in curves]
    end = max(t[-1] for t in where)
    y = np.concatenate([values for _, values in curves])
    sigma = np.concatenate([np.full(len(values), noise(values)) for _, values in curves])
    p0 = list(start(curves, edges) - origin)
    low, high = [0.0] * edges, [end] * edges
    for _, values in curves:
        p0 += [values.min(), 0.1, 1.2 * np.ptp(values), 400.0]
        low += [-100.0, -50.0, 0.0, 5.0 if nodes == 1 else 100.0]
        high += [200.0, 50.0, 1000.0, 20000.0]
        if nodes == 2:
            p0 += [0.1 * np.ptp(values), 60.0]
            low += [0.0, 1.0]
            high += [1000.0, 100.0]
    low, high = np.array(low), np.array(high)
    best, covariance = curve_fit(
        lambda _, *p: newton(where, np.array(p), edges, nodes, False),
        y,
        y,
        p0=np.clip(p0, low + 1e-6, high - 1e-6),
        sigma=sigma,
        bounds=(low, high),
        jac=lambda _, *p: newton(where, np.array(p), edges, nodes, True),
        x_scale="jac",
        max_nfev=100,
    )
    half = 1.96 * np.sqrt(np.diag(covariance))
    return [edge(best[j] + origin, half[j]) for j in range(1, edges, 2)]


def fit_pwlf(curves, edges, no_lags):
    out = []
    round_top = no_lags or len(curves[0][0]) < FEW
    share, degree = (0.5, 2) if round_top else (0.3, 1)
    for off, window in windows(curves, start(curves, edges), share):
        t, y = mean_signal(window, 300)
        # In units of the window: in seconds the standard errors are lost to rounding.
        unit = t[-1] - t[0]
        model = pwlf.PiecewiseLinFit((t - off) / unit, y, degree=degree)
        breaks = model.fit_guess([0.0] if round_top else [0.0, 0.4 * (t[-1] - off) / unit])
        # The last standard errors are those of the breaks.
        errors = model.standard_errors(method="non-linear")
        half = 1.96 * errors[-(len(breaks) - 2)]
        out.append(edge(off + unit * breaks[1], unit * half))
    return out


def parted(t, y, how, search, breaks):
    """The first row of each part but the first, as ruptures parts a signal."""
    if how == "ar":
        signal, options = y.copy(), {"model": "ar", "params": {"order": 1}}
    else:
        u = (t - t[0]) / (t[-1] - t[0])
        signal, options = np.c_[y, np.vander(u, 3)], {"model": "linear"}
    places = search(min_size=4, jump=1, **options).fit(signal).predict(n_bkps=breaks)
    return np.array(places[:-1])


def between(t, places):
    """Instants half-way to the rows before."""
    return 0.5 * (t[places] + t[places - 1])


def crossing(t, y, place, first):
    """Where lines through three rows on each side meet, within a row of the place."""
    sides = slice(max(first, place - 3), place), slice(place, place + 3)
    (a, b), (c, d) = (np.polyfit(t[side] - t[place], y[side], 1) for side in sides)
    step = t[place] - t[place - 1]
    return t[place] + np.clip((d - b) / (a - c), -2 * step, step)


def fit_ruptures(curves, edges, no_lags):
    t, y = mean_signal(curves, 300)
    if len(t) < FEW:
        places = parted(t, y, "ar", ruptures.Dynp, edges)
        pairs = zip(places[1::2], places[::2])
        return [edge(crossing(t, y, place, first)) for place, first in pairs]
    lamp = between(t, parted(t, y, "quadratic", ruptures.BottomUp, edges))
    how, share = ("quadratic", 0.3) if no_lags else ("ar", 0.5)
    out = []
    for off, window in windows(curves, lamp, share):
        t, y = mean_signal(window, 600)
        # With one break this search is exhaustive.
        out.append(edge(between(t, parted(t, y, how, ruptures.Binseg, 1))[0]))
    return out


TOOLS = {"pwlf": fit_pwlf, "ruptures": fit_ruptures, "scipy": fit_scipy}


def truths(folder, part=0, parts=1):
    lines = [line for file in sorted(folder.glob("truth-*.jsonl")) for line in file.open()]
    records = [json.loads(line) for line in lines]
    # Those without an edge are no question to a tool that is told how many there are.
    return [record for record in records if record["edges_s"]][part::parts]


def answers(folder, record):
    """What each tool says of a record, with the CPU time it took."""
    rows = np.loadtxt(folder / record["file"], delimiter=",", skiprows=1, ndmin=2)
    for tool, fit in TOOLS.items():
        begin = time.process_time()
        try:
            curves = clean(rows[:, 0], rows[:, 1:].T)
            off = fit(curves, len(record["edges_s"]), record["no_lags"])
        # What a library raises when it finds nothing is its own business; it found nothing.
        except Exception as error:
            print(f"{tool} on {record['file']}: {error!r}", file=sys.stderr)
            off = []
        yield tool, off, time.process_time() - begin


def shifts(folder):
    """Each tool's median error in seconds on each family whose lags are open."""
    errors = {}
    for record in truths(folder):
        if record["no_lags"]:
            continue
        for tool, off, _ in answers(folder, record):
            away = [o["at_s"] - e for o, e in zip(off, record["edges_s"][1::2])]
            errors.setdefault((tool, record["family"]), []).extend(away)
    found = {key: float(np.median(away)) for key, away in errors.items()}
    for (tool, family), by in sorted(found.items()):
        print(f"shift of {tool} on {family}: {by:.1f} s", file=sys.stderr)
    return found


def main():
    lessons, folder = Path(sys.argv[1]), Path(sys.argv[2])
    part, parts = map(int, (sys.argv[3] if len(sys.argv) > 3 else "0/1").split("/"))
    warnings.simplefilter("ignore")
    shift = shifts(lessons)
    files = {tool: (folder / f"answers-{tool}-{part}.jsonl").open("w") for tool in TOOLS}
    for record in truths(folder, part, parts):
        for tool, off, spent_s in answers(folder, record):
            by = shift.get((tool, record["family"]), 0.0)
            moved = [{k: v if v is None else v - by for k, v in o.items()} for o in off]
            answer = {
                "tool": tool,
                "file": record["file"],
                "edges": len(record["edges_s"]) if off else 0,
                "off": moved,
                "spent_s": spent_s,
            }
            files[tool].write(json.dumps(answer) + "\n")


if __name__ == "__main__":
    main()
