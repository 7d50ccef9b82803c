"""The program's answer against the truth: edges, intervals, and values at the marks."""

import json
import subprocess
import time
from dataclasses import dataclass, field

import numpy as np

GROSS_S = 60.0
MAYBE_S = 60.0
PAIR_S = 600.0
FILES_A_CALL = 25


@dataclass
class Verdict:
    """What one record gave; `off` and `on` hold (error s or None if missing, covered, half-width s)."""

    record: object
    answer: dict = None
    on: list = field(default_factory=list)
    off: list = field(default_factory=list)
    extra: list = field(default_factory=list)  # edges told that are not there
    values: list = field(default_factory=list)  # (what, error degC, u degC)

    @property
    def wrong_count(self):
        """Whether an edge is missing or told in vain."""
        return bool(self.extra) or any(e is None for e, _, _ in self.on + self.off)


def declared(plan):
    """Options that declare the true lags: first moments of the probes' and of the lamp's."""
    lamp_s = plan.lamp.shares[1] * plan.lamp.filament_s + plan.lamp.shares[2] * plan.lamp.envelope_s
    return ["--probe-lag", ",".join(f"{s.lag_s:.2f}s" for s in plan.slabs), "--lamp-lag", f"{lamp_s:.2f}s"]


def analyse(program, records, options, declare=False):
    """Runs the program on all records; the answers in order (None where there is none), seconds."""
    answers, seconds, at_once = {}, 0.0, 1 if declare else FILES_A_CALL
    for first in range(0, len(records), at_once):
        part = [str(r.path) for r in records[first : first + at_once]]
        lags = declared(records[first].plan) if declare else []
        begun = time.monotonic()
        done = subprocess.run([program, "analyse", "--json", *options, *lags, *part], capture_output=True, text=True)
        seconds += time.monotonic() - begun
        for line in done.stdout.splitlines():
            answer = json.loads(line)
            answers[answer["source"]] = answer
        for line in done.stderr.splitlines():
            print("  stderr:", line[:200])
    return [answers.get(str(r.path)) for r in records], seconds


def pair(truth, told):
    """Pairs true instants with told edges, nearest first, at most `PAIR_S` apart; (pairs, rest)."""
    out, used = [(t, None) for t in truth], set()
    for far, i, j in sorted((abs(e["at_s"] - t), i, j) for i, t in enumerate(truth) for j, e in enumerate(told)):
        if far <= PAIR_S and out[i][1] is None and j not in used:
            used.add(j)
            out[i] = (truth[i], told[j])
    return out, [e for j, e in enumerate(told) if j not in used]


def judge(record, answer):
    """Compares one answer with the truth of its record."""
    verdict = Verdict(record, answer)
    plan, edges = record.plan, answer["lamp"] if answer else []
    for kind, into in (("on", verdict.on), ("off", verdict.off)):
        pairs, left = pair([t for k, t in plan.edges if k == kind], [e for e in edges if e["edge"] == kind])
        for t, e in pairs:
            into.append((None, False, None) if e is None else
                        (e["at_s"] - t, e["low_s"] <= t <= e["high_s"], (e["high_s"] - e["low_s"]) / 2))
        near = [t for k, t in plan.maybe if k == kind]
        verdict.extra += [e for e in left if not any(abs(e["at_s"] - t) < MAYBE_S for t in near)]
    mishap = plan.logger.touches or plan.logger.moves  # what the probe should have read is moot
    if answer and not plan.hand and not mishap:
        verdict.values = list(values(record, answer))
    return verdict


def told_of(plan, channel):
    """Whether a channel's values have a truth: it was alive."""
    return not plan.logger.dead or plan.logger.dead[0] != channel


def values(record, answer):
    """Errors of the values at marks and of start, peak, end and rise, with their uncertainties."""
    plan, lamp = record.plan, dict((k, t) for k, t in reversed(record.plan.edges))
    turns = [t for k, t in plan.edges + plan.maybe]
    for mark in answer["marks"]:
        near = any(abs(mark["at_s"] - t) < 20.0 for t in turns)
        for c, (v, u) in enumerate(zip(mark["degc"], mark["u_degc"])):
            if v is not None and u is not None and told_of(plan, c):
                yield ("mark at an edge" if near else "mark", v - record.truth(c, mark["at_s"]), u)
    if len(plan.edges) != 2 or "off" not in lamp or "on" not in lamp:
        return
    for c, sample in enumerate(answer["samples"]):
        if not told_of(plan, c):
            continue
        true = {"start": record.truth(c, lamp["on"]), "peak": record.truth(c, lamp["off"]),
                "end": record.truth(c, record.last_s)}
        true["rise"] = true["peak"] - true["start"]
        for what, value in true.items():
            told, u = sample[f"{what}_degc"], sample["u"][f"{what}_degc"]
            if told is not None and u is not None:
                yield what, told - value, u


def percentile(numbers, share):
    """A percentile, or NaN of nothing."""
    return float(np.percentile(numbers, share)) if len(numbers) else np.nan


def row(verdicts, kind):
    """One line of the table of edges for "on" or "off"."""
    found = [x for v in verdicts for x in getattr(v, kind)]
    errors = [abs(e) for e, _, _ in found if e is not None]
    signed = [e for e, _, _ in found if e is not None]
    gross = sum(e is None or abs(e) > GROSS_S for e, _, _ in found)
    covered = [c for e, c, _ in found if e is not None]
    half = [h for e, _, h in found if e is not None]
    cover = 100 * np.mean(covered) if covered else np.nan
    return (f"{len(found):5d} {percentile(signed, 50):+7.2f} {percentile(errors, 50):7.2f}"
            f" {percentile(errors, 95):8.2f} {gross:5d} {cover:8.1f} {percentile(half, 50):8.2f}")


EDGE_HEAD = (f"{'family':12s} {'rec':>4s} | {'edges':>5s} {'bias/s':>7s} {'med/s':>7s} {'95%/s':>8s} {'gross':>5s}"
             f" {'cover/%':>8s} {'half/s':>8s} | {'count!':>6s} {'extra':>5s} {'s/rec':>6s}")


def value_rows(verdicts):
    """Lines of the table of values: within 2 u, median error over u, 95 % of the error."""
    for what in ("mark", "mark at an edge", "start", "peak", "end", "rise"):
        seen = [(e, u) for v in verdicts for w, e, u in v.values if w == what]
        if seen:
            e, u = np.array(seen).T
            z = np.abs(e) / np.maximum(u, 1e-9)
            two, three = 100 * np.mean(z <= 2), 100 * np.mean(z <= 3)
            middle, most = np.percentile(np.abs(e), [50, 95])
            yield (f"{what:16s} {len(e):6d}  within 2u {two:5.1f} %, 3u {three:5.1f} %; median z {np.median(z):5.2f};"
                   f" error median {middle:.4f}, 95 % {most:.4f}; median u {np.median(u):.4f} degC")
