"""How near an efficient estimator could come to the instants of a record: the Bayesian Cramer-Rao bound.

Fisher information of this simulator's own model at the true values (forward differences of the curve
without noise), plus what is known of every parameter beforehand: the distribution that it is drawn from,
taken as a normal one of the same spread. The instants themselves are unknown. The estimator measured knows
far less, so the bound is what no estimator beats on these records, not what one without that knowledge
could reach. Opened doors, touches, spikes and hum are not counted.
(Van Trees, Detection, Estimation, and Modulation Theory, 1968, section 2.4.3; from memory.)
"""

import copy
import csv
import math

import numpy as np

from . import simulate

MOST_ROWS = 1200  # of a channel; of more every so manieth is taken, and its noise lowered to match
EDGE_STEP_S = 0.5
SMALL = 0.01  # step of a parameter, in standard deviations of what is known of it
WANDER_S = 240.0  # the room's random walk in increments of so much

# Standard deviation of a slab's parameters: half-ranges of uniform draws, over the root of three.
WIDE = lambda low, high: (high - low) / math.sqrt(12.0)
BOTH = {
    "convection": WIDE(1.4, 2.2), "draught": WIDE(0.5, 4.0), "emissivity": WIDE(0.92, 0.97),
    "tray_contact": WIDE(8.0, 80.0), "tray_capacity": WIDE(1500.0, 6000.0), "table_contact": WIDE(3.0, 20.0),
    "touch": WIDE(0.8, 1.0),
}
DRY = {
    "thickness_m": WIDE(0.004, 0.009), "conductivity": WIDE(1.4, 2.4), "heat_capacity": WIDE(2.0e6, 2.4e6),
    "absorptivity": WIDE(0.8, 0.95), "start_degc": WIDE(-0.2, 0.2), "depth_m": WIDE(0.0, 0.001),
}
WET = {
    "thickness_m": WIDE(0.02, 0.04), "conductivity": WIDE(0.15, 0.5), "heat_capacity": WIDE(0.8e6, 3.2e6),
    "absorptivity": WIDE(0.7, 0.9), "start_degc": WIDE(-3.0, -0.5), "extinction_per_m": WIDE(150.0, 700.0),
    "transfer_m_s": WIDE(0.001, 0.006), "depth_m": WIDE(0.0003, 0.0025),
}
LAG_S, BEAD_SHARE = 3.0, WIDE(0.1, 0.5)
GLARE_PER_FLUX = 0.00065  # half have none, the others up to 0.002
LN_FLUX = WIDE(math.log(120.0), math.log(750.0))
WATER_DECADES = WIDE(-1.0, 0.7)


def add(name, sd):
    """A change of a number by `x` standard deviations."""
    return lambda thing, x: setattr(thing, name, getattr(thing, name) + x * sd)


def times(name, sd):
    """A change of a number's logarithm by `x` standard deviations."""
    return lambda thing, x: setattr(thing, name, getattr(thing, name) * math.exp(x * sd))


def lag(slab, x):
    """A change of the whole lag, its split kept."""
    share, whole = slab.sheath_s / slab.lag_s, slab.lag_s + x * LAG_S
    slab.sheath_s, slab.bead_s = share * whole, (1.0 - share) * whole


def split(slab, x):
    """A change of the split, the whole lag kept."""
    by = x * BEAD_SHARE * slab.lag_s
    slab.sheath_s, slab.bead_s = slab.sheath_s - by, slab.bead_s + by


def of_slab(slab, deep):
    """What changes a slab."""
    known = {**BOTH, **(WET if slab.transfer_m_s > 0.0 else DRY)}
    if deep:
        known.pop("depth_m")
    if deep and slab.transfer_m_s > 0.0:
        known["depth_m"] = WIDE(0.004, 0.010)
    changes = [add(name, sd) for name, sd in known.items()]
    changes += [lag, split, add("glare_degc", GLARE_PER_FLUX * slab.irradiance), times("irradiance", 0.07)]
    if slab.transfer_m_s > 0.0:
        changes.append(times("water_kg_m2", WATER_DECADES * math.log(10.0)))
    return changes


def of_lamp(lamp):
    """What changes a lamp of its kind."""
    led = lamp.shares[0] > 0.5
    changes = [add("housing_s", WIDE(120.0, 600.0)),
               add("housing", WIDE(0.01, 0.05) if led else WIDE(0.02, 0.1))]
    if led:
        return changes + [add("droop", WIDE(0.0, 0.1))]
    return changes + [add("filament_s", WIDE(0.5, 4.0)), add("envelope_s", WIDE(20.0, 60.0))]


def flux(plan, x):
    """A change of the lamp's light on all samples."""
    for slab in plan.slabs:
        slab.irradiance *= math.exp(x * LN_FLUX)


def changed(plan):
    """One plan for each parameter, each a small step away; edges first, their step in seconds."""
    plans, steps = [], []

    def take(change, step):
        other = copy.copy(plan)
        other.lamp, other.room = copy.deepcopy(plan.lamp), copy.deepcopy(plan.room)
        other.slabs = copy.deepcopy(plan.slabs)
        change(other)
        plans.append(other)
        steps.append(step)

    for k in range(len(plan.lamp.on_s)):
        for end in (0, 1):
            def move(p, k=k, end=end):
                pair = list(p.lamp.on_s[k])
                pair[end] += EDGE_STEP_S
                p.lamp.on_s[k] = tuple(pair)
            take(move, EDGE_STEP_S)
    room = [add("air_degc", WIDE(16.0, 27.0)), add("humidity", WIDE(0.3, 0.65)), add("drift_per_h", 0.8),
            add("lamp_warms_degc", WIDE(0.1, 1.2)), add("lamp_warms_s", WIDE(400.0, 1500.0))]
    for change in room:
        take(lambda p: change(p.room, SMALL), SMALL)
    for change in of_lamp(plan.lamp):
        take(lambda p: change(p.lamp, SMALL), SMALL)
    take(lambda p: flux(p, SMALL), SMALL)
    for c, slab in enumerate(plan.slabs):
        for change in of_slab(slab, plan.family == "deep"):
            take(lambda p: change(p.slabs[c], SMALL), SMALL)
    return plans, steps


def wandering(plan, grid_s):
    """Courses of the air, one for each increment of its random walk, of one standard deviation each."""
    starts = np.arange(grid_s[0], min(plan.length_s, grid_s[-1]), WANDER_S)
    sd = plan.room.wander * math.sqrt(WANDER_S / 60.0)
    return [sd * np.clip((grid_s - s) / WANDER_S, 0.0, 1.0) for s in starts]


def table(path):
    """Instants of the rows, and which cells have a value."""
    with open(path, encoding="utf-8") as text:
        rows = list(csv.reader(text))[1:]
    return np.array([float(r[0]) for r in rows]), np.array([[c != "" for c in r[1:]] for r in rows])


def information(step, sd):
    """Fisher information of a reading about its mean: normal noise, then rounded; mean over the places."""
    if step == 0.0:
        return sd**-2
    ratio = step / sd
    reach = math.ceil(8.0 / ratio) + 1
    place = (np.arange(200) + 0.5) / 200 - 0.5
    low = (np.arange(-reach, reach + 1)[:, None] - 0.5 - place) * ratio
    below = np.vectorize(lambda x: 0.5 * math.erfc(-x / math.sqrt(2.0)))
    density = lambda x: np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    share, fall = below(low + ratio) - below(low), density(low + ratio) - density(low)
    return float(np.where(share > 1e-12, fall**2 / np.maximum(share, 1e-12), 0.0).sum() / 200) / sd**2


def weigh(logger, t, slopes):
    """Information of one channel's rows about all parameters."""
    every = max(1, math.ceil(len(t) / MOST_ROWS))
    t, slopes = t[::every], slopes[::every]
    noise = np.eye(len(t)) / (information(logger.step_degc, logger.white_degc) * every)
    if logger.red_degc > 0.0:
        noise += logger.red_degc**2 * np.exp(-np.abs(t[:, None] - t) / logger.red_s)
    return slopes.T @ np.linalg.solve(noise, slopes)


def bounds_s(record):
    """Bound of each edge's standard deviation in seconds, in order of time."""
    plan = record.plan
    plans, steps = changed(plan)
    grid, _ = simulate.grid(plan)
    courses = wandering(plan, grid)
    plans = [plan] + plans + [plan] * len(courses)
    more = np.zeros((len(grid), len(plans)))
    for k, course in enumerate(courses):
        more[:, len(plans) - len(courses) + k] = course
    grid, true = simulate.curves(plans, more)
    steps = np.array(steps + [1.0] * len(courses))
    t, there = table(record.path)
    edges = 2 * len(plan.lamp.on_s)
    fisher = np.diag([0.0] * edges + [1.0] * (len(steps) - edges))
    for c in range(len(plan.slabs)):
        rows = t[there[:, c]]
        base = np.interp(rows, grid, true[0][:, c])
        slopes = np.stack([np.interp(rows, grid, one[:, c]) - base for one in true[1:]], axis=1) / steps
        fisher += weigh(plan.logger, rows, slopes)
    return np.sqrt(np.diag(np.linalg.inv(fisher))[:edges])


def within(bounds, share):
    """The error that an efficient estimator stays below in this share of the edges."""
    low, high = 0.0, 1e4
    for _ in range(60):
        middle = (low + high) / 2
        inside = np.mean([math.erf(middle / (b * math.sqrt(2.0))) for b in bounds])
        low, high = (middle, high) if inside < share else (low, middle)
    return low


def row(verdicts, kind):
    """One line beside the errors: what an efficient estimator would have on the records that have all edges."""
    slot = {"on": 0, "off": 1}[kind]
    bounds, ratios, errors = [], [], []
    for v in verdicts:
        found = getattr(v, kind)
        if not v.record.plan.lamp.on_s or any(e is None for e, _, _ in found):
            continue
        for b, (e, _, _) in zip(bounds_of(v)[slot::2], found):
            bounds.append(b)
            ratios.append((e / b) ** 2)
            errors.append(abs(e))
    if not bounds:
        return "no bound"
    z = np.sqrt(ratios)
    return (f"{len(bounds)} edges: bound {np.median(bounds):.2f} s;"
            f" efficient: {within(bounds, 0.5):.2f} s, 95 % {within(bounds, 0.95):.2f} s;"
            f" ours: {np.median(errors):.2f} s, {np.percentile(errors, 95):.2f} s;"
            f" over bound: rms {np.sqrt(np.mean(ratios)):.2f}, median {np.median(z):.2f}")


def bounds_of(verdict):
    """The bounds of a verdict's record, worked out once."""
    if not hasattr(verdict, "bounds_s"):
        verdict.bounds_s = bounds_s(verdict.record)
    return verdict.bounds_s
