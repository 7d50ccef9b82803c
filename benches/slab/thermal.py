"""Samples as slabs: one-dimensional conduction under light, air, evaporation and a tray.

Conduction is stepped implicitly (backward Euler on a stretched grid); what happens at the surface
is explicit and nonlinear: natural convection in the power 1.25 of the temperature difference,
radiation in the fourth power, evaporation by the saturation density of water vapour. Temperatures
are in degC, fluxes in W/m2, lengths in m, times in s. Magnitudes of the materials are those of
common handbooks (quartz, wet peat); the rest is common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

NODES = 16
STRETCH = 1.18
SIGMA_W_M2K4 = 5.670374419e-8  # CODATA 2018
LATENT_J_KG = 2.45e6
KELVIN = 273.15
DRYING_KG_M2 = 0.08  # water at which the surface no longer keeps wholly wet


@dataclass
class Slab:
    """One sample and the probe in it; one value each, drawn by `draw_slab`."""

    name: str
    thickness_m: float
    conductivity: float
    heat_capacity: float  # J/(m3 K)
    absorptivity: float
    extinction_per_m: float  # infinite: all light stops at the surface
    emissivity: float
    convection: float  # W/(m2 K^1.25)
    draught: float  # W/(m2 K)
    transfer_m_s: float  # vapour transfer; 0 for a dry sample
    water_kg_m2: float
    tray_contact: float  # W/(m2 K)
    tray_capacity: float  # J/(m2 K)
    table_contact: float
    depth_m: float  # of the probe
    touch: float  # share of sample in what the probe feels; the rest is air
    sheath_s: float
    bead_s: float
    glare_degc: float  # how far the full beam warms the probe itself
    irradiance: float  # W/m2 of the full beam here
    start_degc: float  # offset from the air

    @property
    def lag_s(self):
        """Total first moment of the probe's own lag."""
        return self.sheath_s + self.bead_s


def draw_slab(rng, wet, irradiance, deep=False, warm_degc=0.0):
    """Draws a tray of wet moss or of roof slate, with a probe near the surface or `deep`."""
    lag_s = float(np.clip(rng.normal(6.0, 3.0), 2.0, 15.0))
    bead_share = rng.uniform(0.1, 0.5)
    thickness = rng.uniform(0.02, 0.04) if wet else rng.uniform(0.004, 0.009)
    if wet:
        depth = rng.uniform(0.004, 0.010) if deep else rng.uniform(0.0003, 0.0025)
    else:
        depth = thickness if deep else rng.uniform(0.0, 0.001)
    return Slab(
        name="moss" if wet else "slate",
        thickness_m=thickness,
        conductivity=rng.uniform(0.15, 0.5) if wet else rng.uniform(1.4, 2.4),
        heat_capacity=rng.uniform(0.8e6, 3.2e6) if wet else rng.uniform(2.0e6, 2.4e6),
        absorptivity=rng.uniform(0.7, 0.9) if wet else rng.uniform(0.8, 0.95),
        extinction_per_m=rng.uniform(150.0, 700.0) if wet else np.inf,
        emissivity=rng.uniform(0.92, 0.97),
        convection=rng.uniform(1.4, 2.2),
        draught=rng.uniform(0.5, 4.0),
        transfer_m_s=rng.uniform(0.001, 0.006) if wet else 0.0,
        water_kg_m2=10 ** rng.uniform(-1.0, 0.7),
        tray_contact=rng.uniform(8.0, 80.0),
        tray_capacity=rng.uniform(1500.0, 6000.0),
        table_contact=rng.uniform(3.0, 20.0),
        depth_m=depth,
        touch=rng.uniform(0.8, 1.0),
        sheath_s=lag_s * (1.0 - bead_share),
        bead_s=lag_s * bead_share,
        glare_degc=irradiance * max(0.0, rng.uniform(-0.002, 0.002)),  # half are shaded or buried
        irradiance=irradiance,
        start_degc=warm_degc + (rng.uniform(-3.0, -0.5) if wet else rng.uniform(-0.2, 0.2)),
    )


def vapour_kg_m3(t_degc):
    """Saturation density of water vapour (Magnus formula, ideal gas)."""
    pressure = 610.94 * np.exp(17.625 * t_degc / (t_degc + 243.04))
    return pressure / (461.5 * (t_degc + KELVIN))


class Trays:
    """All slabs of a batch of records, stepped together; `record[i]` says whose air slab i feels."""

    def __init__(self, slabs, record, air_degc, humidity, step_s):
        self.record, self.step_s, self.humidity = record, step_s, humidity[record]
        self.value = {k: np.array([getattr(s, k) for s in slabs]) for k in vars(slabs[0]) if k != "name"}
        self._grid()
        air = air_degc[record]
        self.t = np.repeat((air + self.value["start_degc"])[:, None], NODES, axis=1)
        self.tray, self.table = self.t[:, -1].copy(), air.copy()
        self.water = self.value["water_kg_m2"].copy()
        self.felt = self._felt(air, 0.0)
        self.sheath, self.bead = self.felt.copy(), self.felt.copy()

    def _grid(self):
        v, count = self.value, len(self.record)
        part = STRETCH ** np.arange(NODES)
        width = v["thickness_m"][:, None] * part / part.sum()
        edge = np.concatenate([np.zeros((count, 1)), np.cumsum(width, axis=1)], axis=1)
        middle = edge[:, :-1] + width / 2
        link = v["conductivity"][:, None] / (middle[:, 1:] - middle[:, :-1])
        self.capacity = v["heat_capacity"][:, None] * width / self.step_s
        system = np.zeros((count, NODES, NODES))
        at = np.arange(NODES)
        system[:, at, at] = self.capacity
        system[:, at[:-1], at[:-1]] += link
        system[:, at[1:], at[1:]] += link
        system[:, at[:-1], at[1:]] -= link
        system[:, at[1:], at[:-1]] -= link
        system[:, -1, -1] += v["tray_contact"]
        self.inverse = np.linalg.inv(system)
        with np.errstate(invalid="ignore"):
            through = np.exp(-v["extinction_per_m"][:, None] * edge)
        through[:, 0] = 1.0
        share = through[:, :-1] - through[:, 1:]
        share[:, -1] += through[:, -1]
        self.absorbed = share * (v["absorptivity"] * v["irradiance"])[:, None]
        right = np.clip((middle < v["depth_m"][:, None]).sum(axis=1), 1, NODES - 1)
        row = np.arange(count)
        gap = middle[row, right] - middle[row, right - 1]
        self.right = right
        self.mix = np.clip((v["depth_m"] - middle[row, right - 1]) / gap, 0.0, 1.0)

    def _felt(self, air, beam):
        row, v = np.arange(len(self.record)), self.value
        there = (1 - self.mix) * self.t[row, self.right - 1] + self.mix * self.t[row, self.right]
        return v["touch"] * there + (1 - v["touch"]) * air + v["glare_degc"] * beam

    def _surface_loss(self, air):
        v, top = self.value, self.t[:, 0]
        above = top - air
        loss = above * (v["convection"] * np.abs(above) ** 0.25 + v["draught"])
        loss += v["emissivity"] * SIGMA_W_M2K4 * ((top + KELVIN) ** 4 - (air + KELVIN) ** 4)
        wetness = 1.0 - np.exp(-self.water / DRYING_KG_M2)
        deficit = vapour_kg_m3(top) - self.humidity * vapour_kg_m3(air)
        rate = v["transfer_m_s"] * wetness * np.maximum(deficit, 0.0)
        self.water = np.maximum(self.water - rate * self.step_s, 0.0)
        return loss + rate * LATENT_J_KG

    def step(self, air_degc, beam, housing):
        """Advances by one step under the step's mean air, beam and housing glow; the readings."""
        v, dt = self.value, self.step_s
        air, beam, housing = air_degc[self.record], beam[self.record], housing[self.record]
        rhs = self.capacity * self.t + self.absorbed * beam[:, None]
        rhs[:, 0] += housing * v["irradiance"] * v["emissivity"] - self._surface_loss(air)
        rhs[:, -1] += v["tray_contact"] * self.tray
        self.t = np.einsum("ijk,ik->ij", self.inverse, rhs, optimize=False)
        into_table = v["table_contact"] * (self.tray - self.table)
        into_tray = v["tray_contact"] * (self.t[:, -1] - self.tray)
        self.tray = self.tray + dt * (into_tray - into_table) / v["tray_capacity"]
        self.table = self.table + dt * (into_table - 8.0 * (self.table - air)) / 20000.0
        felt, before = self._felt(air, beam), self.felt
        self.felt = felt
        sheath_before = self.sheath
        self.sheath = self.sheath + (1 - np.exp(-dt / v["sheath_s"])) * ((felt + before) / 2 - self.sheath)
        mean = (self.sheath + sheath_before) / 2
        self.bead = self.bead + (1 - np.exp(-dt / v["bead_s"])) * (mean - self.bead)
        return self.bead
