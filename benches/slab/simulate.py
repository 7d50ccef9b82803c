"""Runs the physics for a batch of plans and writes each as the table a teacher would have."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from . import beam, readings, room, thermal

BEFORE_S = 900.0
LEAST_RISE_DEGC, MOST_RISE_DEGC = 3.0, 45.0


@dataclass
class Record:
    """One written table and its truth: `true_degc[step, channel]` is the noiseless reading."""

    plan: object
    path: Path
    grid_s: np.ndarray
    true_degc: np.ndarray
    last_s: float  # instant of the last row

    def truth(self, channel, at_s):
        """The noiseless reading (probe lag included) at `at_s`."""
        return float(np.interp(at_s, self.grid_s, self.true_degc[:, channel]))


def grid(plan, length_s=None):
    """The ends of the steps in s, and how many there are."""
    steps = int((BEFORE_S + (length_s or plan.length_s)) / plan.step_s) + 2
    return -BEFORE_S + plan.step_s * (1 + np.arange(steps)), steps


def curves(plans, more_degc=0.0):
    """Noiseless readings of plans with one common step: the grid, and `[step, channel]` each.

    `more_degc` is added to the air, `[step, plan]`.
    """
    step = plans[0].step_s
    grid_s, steps = grid(plans[0], max(p.length_s for p in plans))
    lamps, rooms = [p.lamp for p in plans], [p.room for p in plans]
    light, glow, switch = beam.shine(lamps, -BEFORE_S, step, steps)
    air = room.air(rooms, switch, -BEFORE_S, step) + more_degc
    light = light + room.sunlight(rooms, -BEFORE_S, step, steps)
    owner = np.array([i for i, p in enumerate(plans) for _ in p.slabs])
    slabs = [s for p in plans for s in p.slabs]
    trays = thermal.Trays(slabs, owner, air[0], np.array([r.humidity for r in rooms]), step)
    out = np.empty((steps, len(slabs)))
    for k in range(steps):
        out[k] = trays.step(air[k], light[k], glow[k])
    return grid_s, [out[:, owner == i] for i in range(len(plans))]


def rise(plan, grid, true):
    """Largest rise of a channel while the lamp is on, in degC; infinite without a lamp."""
    if not plan.lamp.on_s:
        return np.inf
    at = lambda t: np.array([np.interp(t, grid, c) for c in true.T])
    before = at(plan.lamp.on_s[0][0])
    return float(max(np.max(at(min(off, plan.length_s)) - before) for _, off in plan.lamp.on_s))


def write(plan, grid, true, folder):
    """Reads the curve as the plan's logger or people do, and writes the table."""
    path = folder / f"{plan.family}-{plan.number}.csv"
    names = [s.name for s in plan.slabs]
    if plan.hand:
        rows, late = plan.hand
        seen = np.stack([np.interp(rows + by, grid, curve) for by, curve in zip(late.T, true.T)], axis=1)
        values = np.round(seen + plan.rng.normal(0.0, 0.04, seen.shape), 1)
        readings.write_csv(path, "time_min", rows / 60.0, names, values, 1, 0)
        return Record(plan, path, grid, true, float(rows[-1]))
    t = readings.stamps(plan.rng, plan.logger, plan.length_s)
    at = np.stack([np.interp(t, grid, c) for c in true.T], axis=1)
    digits = {0.0625: 4, 0.1: 1, 0.01: 2}.get(plan.logger.step_degc, 3)
    readings.write_csv(path, "elapsed_s", t, names, readings.read(plan.rng, plan.logger, t, at), digits)
    return Record(plan, path, grid, true, float(t[-1]))


def make(plans, folder):
    """Simulates and writes all plans; those whose rise is not a lesson's are left out."""
    folder.mkdir(parents=True, exist_ok=True)
    records = []
    for step in sorted({p.step_s for p in plans}):
        batch = [p for p in plans if p.step_s == step]
        grid_s, true = curves(batch)
        for plan, curve in zip(batch, true):
            warm = rise(plan, grid_s, curve)
            as_it_is = plan.hand or plan.length_s > 86400.0
            if as_it_is or warm == np.inf or LEAST_RISE_DEGC <= warm <= MOST_RISE_DEGC:
                records.append(write(plan, grid_s, curve.astype(np.float32), folder))
    return sorted(records, key=lambda r: r.plan.number)
