"""What a logger, or a pupil with a watch, writes down of a true temperature: noise and mishaps."""

from dataclasses import dataclass, field

import numpy as np

OCTAVES = 8


@dataclass
class Logger:
    """How one record is read; chances and rates are per record unless the name says otherwise."""

    interval_s: float
    jitter_s: float = 0.0
    white_degc: float = 0.01
    red_degc: float = 0.0  # first-order autoregressive
    red_s: float = 10.0
    pink_degc: float = 0.0  # 1/f: equal parts of several red noises
    hum_degc: float = 0.0
    step_degc: float = 0.0  # resolution; 0 for none
    spike_rate: float = 0.0  # per row
    touches: int = 0
    moves: int = 0
    gaps: list = field(default_factory=list)  # (start s, length s, channel or None for all)
    missing: float = 0.0  # share of cells
    dead: tuple = ()  # (channel, None for empty or a constant in degC)


def red(rng, count, interval_s, tau_s):
    """Unit-variance first-order autoregressive noise."""
    keep = np.exp(-interval_s / tau_s)
    out, level = np.empty(count), rng.normal()
    kick = rng.normal(size=count) * np.sqrt(1 - keep**2)
    for k in range(count):
        level = keep * level + kick[k]
        out[k] = level
    return out


def pink(rng, count, interval_s):
    """Unit-variance noise whose power falls as 1/f over `OCTAVES` factors of four from 2 s."""
    return sum(red(rng, count, interval_s, 2.0 * 4.0**j) for j in range(OCTAVES)) / np.sqrt(OCTAVES)


def stamps(rng, logger, length_s):
    """Sampling instants from 0 to `length_s`, strictly increasing."""
    t = np.arange(0.0, length_s, logger.interval_s)
    if logger.jitter_s > 0.0:
        t = t + rng.uniform(0.0, min(logger.jitter_s, 0.9 * logger.interval_s), len(t))
    return np.round(t - t[0], 3)


def read(rng, logger, t, truth):
    """Readings of `truth[row, channel]` at `t`; empty cells are NaN."""
    out = truth.copy()
    for c in range(truth.shape[1]):
        value, count = out[:, c], len(t)
        value += logger.white_degc * rng.normal(size=count)
        if logger.red_degc > 0.0:
            value += logger.red_degc * red(rng, count, logger.interval_s, logger.red_s)
        if logger.pink_degc > 0.0:
            value += logger.pink_degc * pink(rng, count, logger.interval_s)
        if logger.hum_degc > 0.0:
            mains_hz = 50.0 + rng.normal(0.0, 0.01)
            value += logger.hum_degc * np.sin(2 * np.pi * (mains_hz * t + rng.random()))
    mishaps(rng, logger, t, out)
    if logger.step_degc > 0.0:
        out = np.round(out / logger.step_degc) * logger.step_degc
    loss(rng, logger, t, out)
    return out


def mishaps(rng, logger, t, out):
    """Touched and moved probes, and spikes, in place."""
    rows, channels = out.shape
    for _ in range(logger.touches):
        c, at = rng.integers(channels), rng.uniform(0.0, t[-1])
        since, bump = t - at, rng.choice([-1.0, 1.0, 1.0]) * rng.uniform(0.5, 5.0)
        shape = (1 - np.exp(-np.maximum(since, 0.0) / 4.0)) * np.exp(-np.maximum(since, 0.0) / rng.uniform(15, 60))
        out[:, c] += bump * shape
    for _ in range(logger.moves):
        c, at = rng.integers(channels), rng.uniform(0.0, t[-1])
        out[:, c] += rng.uniform(-2.0, 2.0) * (1 - np.exp(-np.maximum(t - at, 0.0) / rng.uniform(4, 12)))
    hit = rng.random(out.shape) < logger.spike_rate
    out[hit] += rng.choice([-1.0, 1.0], hit.sum()) * rng.uniform(10.0, 80.0, hit.sum())


def loss(rng, logger, t, out):
    """Gaps, missing cells and a dead channel, in place."""
    for start, length, channel in logger.gaps:
        rows = (t >= start) & (t < start + length)
        out[rows, slice(None) if channel is None else channel] = np.nan
    out[rng.random(out.shape) < logger.missing] = np.nan
    if logger.dead:
        channel, value = logger.dead
        out[:, channel] = np.nan if value is None else value


def bench_logger(rng, interval_s=None, length_s=0.0):
    """A usual logger: correlated noise, coarse steps, now and then a spike, touch or gap."""
    logger = Logger(interval_s=interval_s or float(rng.choice([0.25, 0.5, 1.0, 2.0, 5.0])))
    logger.white_degc = 10 ** rng.uniform(-2.3, -1.1)
    logger.red_degc, logger.red_s = rng.choice([0.0, 1.0]) * rng.uniform(0.005, 0.05), rng.uniform(3.0, 60.0)
    logger.step_degc = float(rng.choice([0.01, 0.0625, 0.1, 0.0]))
    logger.spike_rate = float(rng.choice([0.0, 1e-3, 5e-3]))
    logger.jitter_s = float(rng.choice([0.0, 0.2])) * logger.interval_s
    logger.touches = int(rng.random() < 0.1)
    if rng.random() < 0.15:
        logger.gaps = [(rng.uniform(0.0, length_s), rng.uniform(5.0, 60.0), None)]
    logger.missing = float(rng.choice([0.0, 0.0, 0.005]))
    return logger


def write_csv(path, time_name, t, names, values, digits, time_digits=3):
    """Writes a table with a time column; NaN becomes an empty cell, an all-empty row is left out."""
    with open(path, "w", encoding="utf-8") as out:
        out.write(",".join([time_name] + [f"{n}_degc" for n in names]) + "\n")
        for row, at in zip(values, t):
            if np.isnan(row).all() and len(t) > 40:
                continue
            cells = ["" if np.isnan(v) else f"{v:.{digits}f}" for v in row]
            out.write(f"{at:.{time_digits}f}," + ",".join(cells) + "\n")
