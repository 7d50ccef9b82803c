"""The room: air that wanders, a door that opens, a lamp that slowly warms it, day and night, sun."""

from dataclasses import dataclass

import numpy as np


@dataclass
class Room:
    """One room; rates in degC per hour, `doors` lists (instant s, drop degC)."""

    air_degc: float
    humidity: float
    wander: float  # degC per square root of a minute
    drift_per_h: float
    doors: list
    lamp_warms_degc: float
    lamp_warms_s: float
    night_degc: float  # half the span of day and night
    night_phase_s: float
    sun: float  # midday sun at the window, as a share of the lamp's full beam
    seed: int


def draw_room(rng, length_s, unruly=1.0, doors=None):
    """Draws a room; `unruly` scales its wandering, `doors` is the chance of an opened door."""
    chance = 0.2 if doors is None else doors
    return Room(
        air_degc=rng.uniform(16.0, 27.0),
        humidity=rng.uniform(0.3, 0.65),
        wander=unruly * rng.uniform(0.005, 0.05),
        drift_per_h=unruly * rng.normal(0.0, 0.8),
        doors=[(rng.uniform(0, length_s), rng.uniform(0.3, 1.5) * unruly)] if rng.random() < chance else [],
        lamp_warms_degc=rng.uniform(0.1, 1.2),
        lamp_warms_s=rng.uniform(400.0, 1500.0),
        night_degc=0.0,
        night_phase_s=0.0,
        sun=0.0,
        seed=int(rng.integers(2**31)),
    )


def air(rooms, switch, start_s, step_s):
    """Air temperature of every step and record in degC, given the lamp's switch."""
    steps, count = switch.shape
    t = start_s + step_s * (np.arange(steps) + 0.5)
    out = np.zeros((steps, count))
    for i, room in enumerate(rooms):
        rng = np.random.default_rng(room.seed)
        walk = np.cumsum(rng.normal(0.0, room.wander * np.sqrt(step_s / 60.0), steps))
        if steps * step_s > 86400.0:  # a room has heating: it doesn't walk away in a fortnight
            walk = settle_back(walk, 7200.0 / step_s)
        drift = room.drift_per_h * np.clip(t, None, 86400.0) / 3600.0 if room.night_degc == 0 else 0.0
        day = room.night_degc * np.sin(2 * np.pi * (t - room.night_phase_s) / 86400.0)
        out[:, i] = room.air_degc + walk + drift + day
        for at, drop in room.doors:
            since = np.maximum(t - at, 0.0)
            out[:, i] -= drop * (1 - np.exp(-since / 30.0)) * np.exp(-since / 900.0)
    warm, keep = np.zeros(count), np.exp(-step_s / np.array([r.lamp_warms_s for r in rooms]))
    rise = np.array([r.lamp_warms_degc for r in rooms])
    for k in range(steps):
        warm = keep * warm + (1 - keep) * switch[k]
        out[k] += rise * warm
    return out


def settle_back(walk, steps):
    """A random walk drawn back to its mean over `steps` steps."""
    out, level, keep = np.empty_like(walk), 0.0, np.exp(-1.0 / steps)
    for k, d in enumerate(np.diff(walk, prepend=0.0)):
        level = keep * level + d
        out[k] = level
    return out


def sunlight(rooms, start_s, step_s, steps):
    """Sun at the window per step and record, a share of the full beam: soft dawns, and clouds."""
    t = start_s + step_s * np.arange(steps)
    out = np.zeros((steps, len(rooms)))
    for i, room in enumerate(rooms):
        if room.sun == 0.0:
            continue
        rng = np.random.default_rng(room.seed + 1)
        height = np.sin(2 * np.pi * (t - room.night_phase_s + 7200.0) / 86400.0)
        cloud = settle_back(np.cumsum(rng.normal(0.0, 0.2, steps)), 1500.0 / step_s)
        out[:, i] = room.sun * np.clip(height, 0.0, None) ** 1.3 * (0.25 + 0.75 / (1 + np.exp(-3 * cloud)))
    return out
