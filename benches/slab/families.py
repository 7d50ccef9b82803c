"""The kinds of record: what is drawn for each, and what the program should find in it.

Every record has its own generator, seeded by family and number, so each can be made again alone.
"""

import zlib
from dataclasses import dataclass, field

import numpy as np

from . import beam, readings, room, thermal


@dataclass
class Plan:
    """Everything drawn for one record; `edges` is the truth, (kind, instant in s of the table)."""

    family: str
    number: int
    slabs: list
    lamp: beam.Lamp
    room: room.Room
    logger: readings.Logger
    length_s: float
    rng: np.random.Generator
    edges: list = field(default_factory=list)
    maybe: list = field(default_factory=list)  # edges that may be told or not
    hand: tuple = ()  # (row instants in s, lag of each cell in s) of a hand-timed table
    step_s: float = 0.25


def generator(family, number):
    """The record's own random numbers."""
    return np.random.default_rng([zlib.crc32(family.encode()), number])


def trays(rng, channels=2, deep=False, warm=0.0):
    """Slabs under one lamp, at nearly equal distances."""
    flux = 10 ** rng.uniform(np.log10(120.0), np.log10(750.0))
    slabs, first = [], int(channels == 1 and rng.random() < 0.4)
    for c in range(first, first + channels):
        distance = rng.normal(1.0, 0.05)
        slabs.append(thermal.draw_slab(rng, c % 2 == 1, flux / distance**2, deep, warm))
        slabs[-1].name += "" if c < 2 else str(c // 2 + 1)
    return slabs


def lesson(family, number, *, settle=(60.0, 600.0), heat=(240.0, 1800.0), cool=(240.0, 1800.0),
           channels=2, deep=False, warm=0.0, cycles=1, kind=None, unruly=1.0, doors=None, interval_s=None):
    """The usual lesson: settle, lamp on, lamp off, by the whole plan's uneven clock."""
    rng = generator(family, number)
    at, on_s = rng.uniform(*settle), []
    for _ in range(cycles):
        off = at + rng.uniform(*heat)
        on_s.append((at, off))
        at = off + rng.uniform(*cool)
    lamp = beam.draw_lamp(rng, on_s, kind)
    plan = Plan(family, number, trays(rng, channels, deep, warm * rng.uniform(0.3, 1.0)), lamp,
                room.draw_room(rng, at, unruly, doors), readings.bench_logger(rng, interval_s, at), at, rng)
    plan.edges = [(k, t) for on, off in on_s for k, t in (("on", on), ("off", off))]
    plan.step_s = 0.25 if plan.logger.interval_s < 1.0 else 0.5
    return plan


def clean(family, number):
    """Quiet readings, fine steps, no mishaps."""
    plan = lesson(family, number)
    plan.logger = readings.Logger(plan.logger.interval_s, white_degc=0.01, step_degc=0.01)
    return plan


def coarse(family, number):
    """0.1 degC steps, a row a second or slower, little noise."""
    plan = lesson(family, number)
    plan.logger = readings.Logger(plan.logger.interval_s, white_degc=0.02, step_degc=0.1)
    return plan


def humming(family, number):
    """1/f noise and mains hum."""
    plan = lesson(family, number)
    plan.logger.pink_degc, plan.logger.hum_degc = plan.rng.uniform(0.02, 0.1), plan.rng.uniform(0.0, 0.15)
    return plan


def touched(family, number):
    """Up to three touches and a probe moved."""
    plan = lesson(family, number)
    plan.logger.touches, plan.logger.moves = int(plan.rng.integers(1, 4)), int(plan.rng.random() < 0.5)
    return plan


def touched_once(family, number):
    """One sample alone, its probe touched once."""
    plan = lesson(family, number, channels=1)
    plan.logger.touches = 1
    return plan


def gappy(family, number):
    """Gaps of a minute, one of them over or near an edge in every third record; missing cells."""
    plan = lesson(family, number)
    rng, gaps = plan.rng, []
    for _ in range(int(rng.integers(1, 4))):
        channel = None if rng.random() < 0.5 else int(rng.integers(2))
        gaps.append((rng.uniform(0.0, plan.length_s), rng.uniform(20.0, 90.0), channel))
    if rng.random() < 1 / 3:
        gaps.append((plan.edges[1][1] - rng.uniform(-20.0, 60.0), 60.0, gaps[0][2]))
    plan.logger.gaps, plan.logger.missing = gaps, rng.uniform(0.0, 0.05)
    return plan


def dead(family, number):
    """One of two or three channels never says anything, or always the same."""
    plan = lesson(family, number, channels=2 + number % 2)
    value = plan.rng.choice([np.nan, 0.0, -127.0, 85.0, 21.3])
    plan.logger.dead = (int(plan.rng.integers(len(plan.slabs))), None if np.isnan(value) else float(value))
    return plan


def from_start(family, number):
    """The lamp was already on at the first row; an on-edge near the first row may be told."""
    plan = lesson(family, number)
    on = -plan.rng.uniform(0.0, 90.0)
    off = on + plan.rng.uniform(300.0, 1500.0)
    plan.lamp.on_s, plan.edges, plan.maybe = [(on, off)], [("off", off)], [("on", on)]
    plan.length_s = off + plan.rng.uniform(240.0, 1500.0)
    return plan


def never_off(family, number):
    """The record ends while the lamp is on."""
    plan = lesson(family, number)
    on, off = plan.lamp.on_s[0]
    plan.lamp.on_s, plan.edges, plan.length_s = [(on, np.inf)], [("on", on)], off
    return plan


def flicker(family, number):
    """A hand switches off for a second or two and on again, somewhere in the heating."""
    plan = lesson(family, number)
    on, off = plan.lamp.on_s[0]
    at, dark = plan.rng.uniform(on, off - 60.0), plan.rng.uniform(0.5, 2.0)
    plan.lamp.on_s, plan.maybe = [(on, at), (at + dark, off)], [("off", at), ("on", at + dark)]
    return plan


def unlit(family, number, length_s=(1800.0, 7200.0), unruly=0.3, warm=0.0, doors=0.0):
    """No lamp at all."""
    rng = generator(family, number)
    length = rng.uniform(*length_s)
    lamp = beam.draw_lamp(rng, [])
    interval = float(rng.choice([1.0, 5.0, 60.0]))
    plan = Plan(family, number, trays(rng, 2, False, warm), lamp, room.draw_room(rng, length, unruly, doors),
                readings.bench_logger(rng, interval, length), length, rng)
    plan.step_s = 0.5
    return plan


def cooling_only(family, number):
    """Samples brought in warm or cold that go to the room's temperature; no lamp."""
    return unlit(family, number, warm=(-6.0, 8.0)[number % 2], unruly=1.0)


def day(family, number):
    """Days at the window without lamp or direct sun: a row a minute or every five."""
    plan = unlit(family, number)
    plan.length_s, plan.step_s = 86400.0 * plan.rng.uniform(1.0, 3.0), 10.0
    plan.logger = readings.bench_logger(plan.rng, float(plan.rng.choice([60.0, 300.0])), plan.length_s)
    plan.room.night_degc, plan.room.night_phase_s = plan.rng.uniform(1.0, 4.0), plan.rng.uniform(0, 86400.0)
    return plan


def window(family, number, evenings=False):
    """A fortnight at the window: soft dawns, clouds, and in some a lamp for an hour each evening."""
    plan = day(family, number)
    plan.length_s = 14 * 86400.0
    plan.logger.gaps, plan.logger.touches, plan.room.sun = [], 0, plan.rng.uniform(0.3, 1.2)
    if evenings:
        dusk = plan.room.night_phase_s % 86400.0 + 36000.0 + 7200.0
        starts = [dusk + 86400.0 * d + plan.rng.uniform(0.0, 7200.0) for d in range(-1, 14)]
        on_s = [(s, s + plan.rng.uniform(1800.0, 7200.0)) for s in starts]
        plan.lamp.on_s = [(a, b) for a, b in on_s if a > 3600.0 and b < plan.length_s - 3600.0]
        plan.edges = [(k, t) for on, off in plan.lamp.on_s for k, t in (("on", on), ("off", off))]
    return plan


def by_hand(family, number, minutes=(1.0, 5.0), rows=(5, 30), settle_rows=(0, 3)):
    """A table written by hand: whole minutes, 0.1 degC, cells read late and one after the other."""
    rng = generator(family, number)
    count = int(rng.integers(rows[0], rows[1] + 1))
    interval = 60.0 * float(rng.choice([m for m in (1.0, 2.0, 3.0, 5.0) if minutes[0] <= m <= minutes[1]]))
    first = int(rng.integers(settle_rows[0], min(settle_rows[1], count - 5) + 1)) if count > 5 else 0
    last = int(rng.integers(first + 2, count - 1))
    at_row = rng.random() < 0.6
    on = first * interval + (rng.uniform(0.0, 15.0) if first > 0 else rng.uniform(-10.0, 20.0))
    off = last * interval + (rng.uniform(-5.0, 15.0) if at_row else rng.uniform(0.0, interval))
    length = (count - 1) * interval
    plan = Plan(family, number, trays(rng), beam.draw_lamp(rng, [(on, off)]), room.draw_room(rng, length),
                readings.Logger(interval, white_degc=0.05, step_degc=0.1), length + 60.0, rng)
    late = rng.uniform(0.0, 10.0, (count, 1)) + np.array([0.0, rng.uniform(2.0, 10.0)])
    plan.hand = (interval * np.arange(count), late)
    plan.edges, plan.step_s = [("off", off)], 0.5
    (plan.edges if first > 0 else plan.maybe).insert(0, ("on", on))
    return plan


def by_hand_unlit(family, number):
    """The same table without a lamp: samples at rest, or brought in warmer or colder than the room."""
    plan = by_hand(family, number)
    lamp = beam.draw_lamp(plan.rng, [])
    slabs = trays(plan.rng, warm=(0.0, -6.0, 8.0)[number % 3])
    plan.slabs, plan.lamp, plan.edges, plan.maybe = slabs, lamp, [], []
    return plan


def only(**changes):
    """A family that is the usual lesson with some ranges changed."""
    return lambda family, number: lesson(family, number, **changes)


FAMILIES = {
    "clean": clean,
    "bench": only(),
    "coarse": coarse,
    "humming": humming,
    "deep": only(deep=True),
    "touched": touched,
    "touched-one": touched_once,
    "gappy": gappy,
    "dead": dead,
    "many": lambda f, n: lesson(f, n, channels=3 + n % 6),
    "single": only(channels=1),
    "half-minute": lambda f, n: lesson(f, n, interval_s=(10.0, 20.0, 30.0)[n % 3]),
    "minute": only(interval_s=60.0),
    "short": only(settle=(0.0, 60.0), heat=(180.0, 300.0), cool=(120.0, 300.0)),
    "warm": only(warm=8.0),
    "unruly": only(unruly=4.0, doors=1.0),
    "emitter": only(kind="emitter"),
    "cycles": lambda f, n: lesson(f, n, cycles=2 + n % 2, heat=(240.0, 900.0), cool=(240.0, 900.0)),
    "from-start": from_start,
    "never-off": never_off,
    "flicker": flicker,
    "hand": by_hand,
    "hand-few": lambda f, n: by_hand(f, n, minutes=(2.0, 5.0), rows=(5, 9)),
    "hand-unlit": by_hand_unlit,
    "steady": unlit,
    "drifting": lambda f, n: unlit(f, n, unruly=1.0, doors=0.2),
    "draughty": lambda f, n: unlit(f, n, unruly=4.0, doors=0.5),
    "cooling": cooling_only,
    "day": day,
    "window": window,
    "window-lamp": lambda f, n: window(f, n, evenings=True),
}
