"""The lamp: filament, light-emitting diodes or infrared emitter, and the housing that stays hot.

A filament's temperature x (1 at full power) follows tau dx/dt = s - x^4, with s the switch; its
light is x^4. So it warms fast and glows down slowly, neither of them an exponential. Diodes follow
the switch at once and lose some light as they warm. An infrared emitter has an envelope that takes
tens of seconds. Every housing warms in minutes and radiates long after. Common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

SUBSTEP_S = 0.05


@dataclass
class Lamp:
    """One lamp and its switching; `on_s` lists (on, off) instants, off may be infinite."""

    kind: str
    on_s: list
    filament_s: float
    shares: tuple  # of diode, filament and envelope in the beam; sum 1
    envelope_s: float
    droop: float
    housing_s: float
    housing: float  # glow of the hot housing as a share of the full beam


def draw_lamp(rng, on_s, kind=None):
    """Draws a lamp; `kind` is "halogen", "led" or "emitter", else one of the first two."""
    kind = kind or ("halogen" if rng.random() < 0.7 else "led")
    shares = {"halogen": (0.0, 0.97, 0.03), "led": (1.0, 0.0, 0.0), "emitter": (0.0, 0.7, 0.3)}[kind]
    return Lamp(
        kind=kind,
        on_s=on_s,
        filament_s=rng.uniform(0.5, 4.0),
        shares=shares,
        envelope_s=rng.uniform(8.0, 30.0) if kind == "emitter" else rng.uniform(20.0, 60.0),
        droop=rng.uniform(0.0, 0.1) if kind == "led" else 0.0,
        housing_s=rng.uniform(120.0, 600.0),
        housing=rng.uniform(0.01, 0.05) if kind == "led" else rng.uniform(0.02, 0.1),
    )


def switched(lamps, start_s, step_s, steps):
    """Share of each step in which the lamp is switched on, `[step, record]`."""
    low = start_s + step_s * np.arange(steps)
    share = np.zeros((steps, len(lamps)))
    for i, lamp in enumerate(lamps):
        for on, off in lamp.on_s:
            share[:, i] += np.clip(np.minimum(low + step_s, off) - np.maximum(low, on), 0.0, step_s)
    return share / step_s


def shine(lamps, start_s, step_s, steps):
    """Mean beam, mean housing glow and mean switch of each step, `[step, record]`, as shares."""
    switch = switched(lamps, start_s, step_s, steps)
    fine = max(1, round(step_s / SUBSTEP_S)) if step_s < 2.0 else 1
    power = switched(lamps, start_s, step_s / fine, steps * fine) if fine > 1 else switch
    get = lambda name: np.array([getattr(lamp, name) for lamp in lamps])
    shares, filament_s, envelope_s = get("shares"), get("filament_s"), get("envelope_s")
    droop, housing_s, housing_share = get("droop"), get("housing_s"), get("housing")
    x, envelope, housing = (np.full(len(lamps), v) for v in (0.05, 0.0, 0.0))
    beam, glow = np.zeros_like(switch), np.zeros_like(switch)
    small = step_s / fine
    for k in range(steps):
        sums = 0.0
        for j in range(fine):
            s = power[k * fine + j]
            if fine > 1:
                x = np.clip(x + small * (s - x**4) / filament_s, 0.05, 1.0)
                light = x**4
            else:
                light = s
            envelope += (1 - np.exp(-small / envelope_s)) * (s - envelope)
            diode = s * (1 - droop * housing)
            sums = sums + shares[:, 0] * diode + shares[:, 1] * light + shares[:, 2] * envelope
        beam[k] = sums / fine
        housing += (1 - np.exp(-step_s / housing_s)) * (switch[k] - housing)
        glow[k] = housing * housing_share
    return beam, glow, switch

